"""The verify job: bags judged, and whether a card may be formatted."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from audit.archive.judge import Judge, Judged
from audit.archive.source import files_of
from audit.disk.apart import lies_in
from audit.disk.log_line import add_line
from audit.disk.read_back import CAN_DROP, hashed
from audit.disk.workplace import Workplace
from audit.errors import AuditError
from audit.message.shown import shown_name

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class OneBag:
    """A bag and what was found; `logged`: whether a line was added to the log beside it.

    `updating`: an update of it was begun and not ended.
    """

    bag: Path
    found: Judged
    logged: bool
    updating: bool = False


@dataclass(frozen=True)
class CardAnswer:
    """Files of the card that are in no bag as they are, and in how many bags every file is."""

    files: int
    left: tuple[tuple[str, str], ...]
    copies: int
    beside: bool
    """Whether a bag lies on the file system of the card."""

    @property
    def may_format(self) -> bool:
        """Yes only where every file was read on both sides."""
        return self.files > 0 and not self.left and self.copies > 0


def verify(bag: Path, *, quick: bool = False, progress: Progress | None = None) -> OneBag:
    """Judges a bag, and adds a line to the log beside it. Raises AuditError where there is no such folder."""
    found = Judge(bag, quick=quick, read=progress).judge()
    place = bag.absolute()
    how = "by sizes and times" if quick else "every byte" if CAN_DROP else "every byte, perhaps from memory"
    outcome = "whole" if not found.problems else f"{len(found.problems)} problems"
    line = f"verified {found.files} files, {found.bytes} bytes, {how}: {outcome}"
    logged = add_line(place.with_name(f"{place.name}.log"), line)
    return OneBag(bag, found, logged, Workplace(place, "update").folder.is_dir())


def refuse_on_card(bags: Sequence[Path], card: Path) -> None:
    """Raises AuditError where a bag would be formatted with the card."""
    for bag in bags:
        if lies_in(bag, card):
            raise AuditError(f"{shown_name(str(bag))}: lies on the card itself; archive it on another disk")


def ask_card(card: Path, bags: Sequence[OneBag], progress: Progress | None = None) -> CardAnswer:
    """Compares every file of the card with what was read in whole bags, by content."""
    whole = [one for n, one in enumerate(bags) if not one.found.problems and not _twice(one, bags[:n])]
    files = files_of(card)
    left, copies = [], len(whole)
    for number, file in enumerate(files, 1):
        shown = shown_name(file.name.decode("utf-8", "surrogateescape"))
        problem, holding = file.problem, 0
        if not problem:
            try:
                digest = hashed(file.path, "sha512")[1]["sha512"]
                holding = sum(digest in one.found.sums for one in whole)
                problem = "" if holding else "is in no bag that is whole"
            except OSError as error:
                problem = f"cannot be read: {error.strerror or error}"
        if problem:
            left.append((shown, problem))
        copies = min(copies, holding)
        if progress is not None:
            progress(number, len(files))
    device = card.stat().st_dev
    beside = any(one.bag.stat().st_dev == device for one in bags)
    if beside and os.path.ismount(card):
        raise AuditError(
            f"{shown_name(str(card))}: a bag lies on the card itself; archive it on another disk"
        )
    return CardAnswer(len(files), tuple(left), copies, beside)


def _twice(one: OneBag, before: Sequence[OneBag]) -> bool:
    return any(one.bag.samefile(other.bag) for other in before)
