"""The update job: a later card, or a corrected declaration, for a bag that is there already.

Two steps, each of which leaves the bag whole: the files of the cards come in, then what is known is made
anew. What gives way goes to history/DATE.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from audit.archive.contents import Contents, contents_of
from audit.archive.judge import DOUBTFUL, Judge
from audit.archive.knowledge import (
    DECLARATIONS,
    KIT,
    as_archived,
    declarations_below,
    left_rows,
    report_files,
)
from audit.archive.names import safe_name, safe_names
from audit.archive.opened import OpenedBag, open_bag
from audit.archive.package import KNOWLEDGE, PICTURES
from audit.archive.sidecars import sidecars_again
from audit.archive.source import SourceFile, files_of
from audit.declare import find_kit, load
from audit.declare.read import kit_shown
from audit.disk.apart import lies_in
from audit.disk.dumps import one_trip
from audit.disk.log_line import add_line
from audit.disk.read_back import how_checked
from audit.disk.replacing import end_replacing, is_replacing
from audit.disk.together import Together
from audit.disk.workplace import Kept, Workplace
from audit.errors import AuditError
from audit.jobs.archive_commit import OF_FILES, Change, commit
from audit.jobs.archive_copy import How, Progress, copy, refuse_full
from audit.jobs.audit import audit
from audit.message.shown import shown_name
from audit.pixels.sources import Mode

CARDS, KNOWN = "cards", "known"


@dataclass(frozen=True)
class Updated:
    """What was done: files that came in, those that could not, and whether anything known has changed.

    `ended` says what became of an update that had been stopped: "finished", "taken back" or nothing.
    """

    copied: int
    left: tuple[SourceFile, ...]
    changed: bool
    ended: str
    checked: str
    logged: bool


@dataclass
class _Update:
    """One update at work."""

    bag: Path
    place: Workplace
    cards: Sequence[Path]
    kit: Path | None
    declarations: Path | None
    pixels: Mode
    how: How
    left: list[SourceFile] = field(default_factory=list)
    copied: int = 0

    def contents(self) -> tuple[OpenedBag, Contents]:
        """The bag as it is by now."""
        opened = open_bag(self.bag)
        if opened is None:
            raise AuditError(f"{shown_name(str(self.bag))}: is no bag that cornerstop made")
        try:
            return opened, contents_of(opened)
        except OSError as error:
            raise AuditError(f"{shown_name(str(self.bag))}: cannot be read: {error.strerror}") from None


def update(
    bag: Path,
    cards: Sequence[Path] = (),
    *,
    kit_path: Path | None = None,
    declarations: Path | None = None,
    pixels: Mode = "preview",
    readback: bool = True,
    once: bool = False,
    progress: Progress | None = None,
) -> Updated:
    """Adds cards to a bag, and makes what is known anew, with a corrected kit or corrected declarations.

    `declarations` is a tree that mirrors data/pictures; what it lacks stays as it was. Raises AuditError
    where the bag is not as it was, the disk refuses or a card goes away: the same call goes on from there,
    any other takes back what was begun.
    """
    for card in cards:
        if lies_in(card, bag) or lies_in(bag, card):
            raise AuditError(f"{shown_name(str(card))}: card and archive lie in each other; name another")
    if cards:
        one_trip(cards)  # refuses a card that is named twice
    place = Workplace(bag.absolute(), "update")
    work = _Update(bag, place, cards, kit_path, declarations, pixels, How(readback, once=once))
    _refuse(work)
    try:
        ended = _take_up(work)
        _refuse_changed(work)
        work.place.own_seal()
        if cards and not work.place.facts.get(CARDS):
            _add_cards(work, progress)
        changed = _know_anew(work)
        work.place.drop_all()
        work.place.tidy()
    finally:
        work.place.close()
    checked = how_checked(back=readback)
    line = f"updated: {work.copied} files more; {len(work.left)} not archived; {checked}"
    logged = add_line(bag.absolute().with_name(f"{bag.absolute().name}.log"), line)
    return Updated(work.copied, tuple(work.left), changed, ended, checked, logged)


def _refuse(work: _Update) -> None:
    """What cannot be is told before anything is begun."""
    opened = open_bag(work.bag)
    if opened is None and not work.place.folder.is_dir():
        raise AuditError(f"{shown_name(str(work.bag))}: is no bag that cornerstop made")
    if opened is not None:
        load(opened.dump, _kit(work, opened), work.declarations, strict=False)


def _take_up(work: _Update) -> str:
    """Ends what a killed run has begun to move, or takes back what it has begun of another update."""
    place = work.place
    place.open()
    wanted = [os.fsencode(card.resolve()).hex() for card in work.cards]
    ended = ""
    if is_replacing(place):
        end_replacing(place)
        ended = "finished"
    if place.facts.get("wanted", wanted) != wanted:
        place.drop_all()
        place.tidy()
        ended = ended or "taken back"
        work.place = Workplace(place.target, "update")
        work.place.open()
    work.place.fact(wanted=wanted)
    return ended


def _refuse_changed(work: _Update) -> None:
    found = Judge(work.bag, quick=True).judge()
    if found.problems:  # a bag that was copied to another disk may have lost its times
        found = Judge(work.bag, quick=False).judge()
    if found.problems:
        first = min(found.problems, key=lambda one: one.kind == DOUBTFUL)
        raise AuditError(
            f"{shown_name(str(work.bag))}: {first.kind}: {shown_name(first.path)}; only a bag that is as it "
            "was is updated: cornerstop verify says what is wrong"
        )


def _add_cards(work: _Update, progress: Progress | None) -> None:
    opened, contents = work.contents()
    taken = {path.name for path in (work.bag / PICTURES).iterdir()}
    planned: list[tuple[SourceFile, str]] = []
    dumps = list(opened.dumps)
    for card in work.cards:
        name = _free(safe_name(os.fsencode(card.resolve().name or "card")), taken)
        dumps += [name] if opened.dumps else []
        files = files_of(card)
        names = safe_names(file.name for file in files)
        start = os.fsencode(name) + b"/"
        planned += [
            (replace(file, name=start + file.name), f"{PICTURES}/{name}/{names[file.name]}") for file in files
        ]
    known = {kept.sha512: path for path, kept in contents.payload.items() if path.startswith(PICTURES)}
    how = replace(work.how, also=contents.algorithms[1:], known=known)
    refuse_full([work.place], planned, how)
    together = Together([work.place])
    try:
        work.copied, work.left = copy(together, one_trip(work.cards), planned, how, progress)
    finally:
        together.shut()
    wanted = {path for _, path in planned}
    new = {path: kept for path, kept in work.place.kept.items() if path in wanted}
    change = Change(CARDS, new, left=left_rows(work.left), dumps=dumps)
    commit(work.place, contents, change, back=work.how.back)


def _free(name: str, taken: set[str]) -> str:
    number, free = 1, name
    while free in taken:
        number += 1
        free = f"{name}-{number}"
    taken.add(free)
    return free


def _kit(work: _Update, opened: OpenedBag) -> Path | None:
    return work.kit or opened.kit or (find_kit(one_trip(work.cards)) if work.cards else None)


def _know_anew(work: _Update) -> bool:
    """Kit, declarations and report as they are now; whether any of it has changed."""
    opened, contents = work.contents()
    place, old = work.place, contents.payload
    place.drop_all(KNOWLEDGE)
    kit = _kit(work, opened)
    made = declarations_below(work.bag / PICTURES)
    made |= declarations_below(opened.declarations) if opened.declarations is not None else {}
    made |= declarations_below(work.declarations) if work.declarations is not None else {}
    made |= {KIT: kit.read_bytes()} if kit is not None else {}
    for name, data in made.items():
        place.write(name, data)
    mirror = place.bag / DECLARATIONS
    result = audit(
        opened.dump, kit_path=kit, declarations=mirror if mirror.is_dir() else None, pixels=work.pixels
    )
    result = as_archived(result, contents.said("External-Identifier"), kit_shown(kit, opened.dump))
    made |= report_files(result) | sidecars_again(old, result, opened.dump, work.bag)
    new: dict[str, Kept] = {}
    for name, data in made.items():
        same = name in old and old[name].sha512 == hashlib.sha512(data).hexdigest()
        if same:
            place.drop(name)
        else:
            new[name] = place.write(name, data, also=contents.algorithms[1:])
    gone = {
        name for name in old if name.startswith(f"{KNOWLEDGE}/") and name not in made and name not in OF_FILES
    }
    if new or gone:
        commit(place, contents, Change(KNOWN, new, gone, dumps=opened.dumps), back=work.how.back)
    return bool(new or gone)
