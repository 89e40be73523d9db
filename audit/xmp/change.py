"""Sidecars on the disk: read, merged in memory, and put in place whole; a backup before the first change."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from audit.disk.building import sync_one
from audit.disk.card import read_part
from audit.disk.interrupt import interrupted
from audit.disk.regular import NOT_REGULAR
from audit.disk.whole_file import clear_leftovers, put_whole
from audit.errors import AuditError
from audit.message.shown import shown_name
from audit.toml.text_file import diff, keep_backup
from audit.xmp.known import Known
from audit.xmp.merge import Merged, merge
from audit.xmp.packet import MOST_BYTES, NotXmpError
from audit.xmp.places import ENDING, Place


class LeftAloneError(Exception):
    """A sidecar that is not to be touched; the message says why."""


@dataclass(frozen=True)
class Change:
    """A sidecar as it is and as it would be."""

    place: Place
    merged: Merged

    @property
    def diff(self) -> str:
        """Unified diff of what it says; empty where nothing changes."""
        return diff(self.merged.before_text, self.merged.after_text, self.place.shown)


def plan(place: Place, known: Known) -> Change | None:
    """What the sidecar would become; None where it stays, or would be new and say nothing.

    Raises LeftAloneError.
    """
    if not place.there and not known.worth_a_file:
        return None
    merged = merged_at(place, known)
    worth = merged.ours or known.worth_a_file
    return Change(place, merged) if merged.changed and worth else None


def merged_at(place: Place, known: Known) -> Merged:
    """The sidecar with what is known in it. Raises LeftAloneError."""
    data = _read(place.path) if place.there or os.path.lexists(place.path) else None
    try:
        return merge(data, known)
    except NotXmpError as error:
        raise LeftAloneError(str(error)) from None


@dataclass
class Written:
    """Where the backups lie, by sidecar, and what was left alone after all, with the reason."""

    backups: dict[str, Path] = field(default_factory=dict)
    left: list[tuple[str, str]] = field(default_factory=list)


def write_all(changes: Sequence[Change]) -> Written:
    """Puts each sidecar in place in one step; what was changed meanwhile is left alone.

    A backup is made unless the file holds something of ours already: then it was made when that was put in.
    Raises AuditError where the disk refuses; what is written by then is whole.
    """
    done, folders = Written(), {change.place.path.parent: change.place.path for change in changes}
    for folder, path in folders.items():
        with _telling(path):
            clear_leftovers(folder)
    try:
        for change in changes:
            interrupted()
            try:
                backup = _write(change)
            except LeftAloneError as error:
                done.left.append((change.place.shown, str(error)))
                continue
            done.backups |= {} if backup is None else {change.place.shown: backup}
    finally:
        for folder, path in folders.items():
            with _telling(path):
                sync_one(folder)
    return done


def _write(change: Change) -> Path | None:
    path, before = change.place.path, change.merged.before
    assert path.suffix.lower() == ENDING  # never a picture
    with _telling(path):
        if before is None:
            put_whole(path, change.merged.after, replacing=False, one_of_many=True)
            return None
        if _read(path) != before:
            raise LeftAloneError("was changed meanwhile; run the command again")
        backup = None if change.merged.ours else keep_backup(path, one_of_many=True)
        put_whole(path, change.merged.after, replacing=True, like=path.stat(), one_of_many=True)
        return backup


@contextmanager
def _telling(path: Path) -> Iterator[None]:
    """A refusal of the disk in our words."""
    try:
        yield
    except FileExistsError:
        raise LeftAloneError("was made meanwhile; run the command again") from None
    except OSError as error:
        raise AuditError(
            f"{shown_name(str(path))}: cannot be written ({error.strerror}); it is as it was, and so are "
            "those after it: look at the rights of its folder and the room on the disk, then run it again"
        ) from None


def _read(path: Path) -> bytes:
    """The bytes of a regular file. Raises LeftAloneError."""
    try:
        if path.is_symlink():
            raise LeftAloneError(NOT_REGULAR)
        return read_part(path, 0, MOST_BYTES + 1)
    except OSError as error:
        raise LeftAloneError(f"cannot be read ({error.strerror})") from None
