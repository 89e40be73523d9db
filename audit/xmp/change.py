"""Sidecars on the disk: read, merged in memory, and put in place whole; a backup before the first change."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from audit.disk.card import read_part
from audit.disk.regular import NOT_REGULAR
from audit.disk.whole_file import put_whole
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


def write(change: Change) -> Path | None:
    """Puts the sidecar in place in one step; gives the path of the backup, if one was made.

    One is made unless the file holds something of ours already: then it was made when that was put in. Raises
    LeftAloneError where the file was changed meanwhile, AuditError where the disk refuses.
    """
    path, before = change.place.path, change.merged.before
    assert path.suffix.lower() == ENDING  # never a picture
    try:
        if before is None:
            put_whole(path, change.merged.after, replacing=False)
            return None
        if _read(path) != before:
            raise LeftAloneError("was changed meanwhile; run the command again")
        backup = None if change.merged.ours else keep_backup(path)
        put_whole(path, change.merged.after, replacing=True, like=path.stat())
        return backup
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
