"""The files of a dump into the workplaces of its bags: each read once, tried again, listed where it fails."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from audit.archive.package import PICTURES
from audit.archive.source import SourceError, SourceFile, chunks_of
from audit.disk.dumps import Dump, tops
from audit.disk.interrupt import interrupted
from audit.disk.together import Together
from audit.disk.workplace import Workplace
from audit.errors import AuditError
from audit.message.shown import shown_name

TRIES, PAUSE_S = 3, 0.2
ROOM_BYTES = 64_000_000
"""Kept free for what is known of the pictures: a report of some thousand frames takes less."""
ALWAYS_KEPT = (".toml", ".xmp", ".txt", ".thm")
"""Endings of files that say something by where they lie: never left out for another of the same bytes."""
Progress = Callable[[int, int], None]
Planned = Sequence[tuple[SourceFile, str]]


@dataclass(frozen=True)
class How:
    """`back`: read again from the disk; `also`: digests beside SHA-512; `once`: same bytes are kept once.

    `known` are files of the bag by digest, from before.
    """

    back: bool = True
    also: Sequence[str] = ()
    once: bool = False
    known: Mapping[str, str] = field(default_factory=dict)


def refuse_full(places: Sequence[Workplace], planned: Planned, how: How) -> None:
    """Raises AuditError where a disk has less room than its bags need."""
    if not hasattr(os, "statvfs"):
        return
    needed: dict[int, int] = {}
    for place in places:
        device = place.folder.stat().st_dev
        size = sum(f.size for f, path in planned if not _whole(place, f, path, how))
        needed[device] = needed.get(device, 0) + ROOM_BYTES + size
        found = os.statvfs(place.folder)
        free = found.f_bavail * found.f_frsize
        if needed[device] > free:
            raise AuditError(
                f"{shown_name(str(place.target.parent))}: {needed[device] / 1e9:.2f} GB are needed, "
                f"{free / 1e9:.2f} GB are free; make room, or name another disk"
            )


def copy(
    together: Together, dump: Dump, planned: Planned, how: How, progress: Progress | None
) -> tuple[int, list[SourceFile]]:
    """How many files were copied, and those that cannot be."""
    copied, left = 0, list[SourceFile]()
    same = {top: top.stat() for top in tops(dump)}
    first = dict(how.known)
    for number, (file, path) in enumerate(planned, 1):
        interrupted()
        into = [place for place in together.alive if not _whole(place, file, path, how)]
        if file.problem:
            left.append(file)
        elif not into:
            _remember(together, path, first)
        elif problem := _copied(together, into, file, path, how, first):
            _refuse_gone(same)
            left.append(replace(file, problem=problem))
        else:
            copied += 1
        if progress is not None:
            progress(number, len(planned))
    together.wait()
    return copied, left


def _stamp(file: SourceFile) -> str:
    return f"{file.stamp} {file.name.hex()}"


def _whole(place: Workplace, file: SourceFile, path: str, how: How) -> bool:
    if how.once and place.twins.get(path, ("", ""))[1] == _stamp(file):
        return True
    kept = place.kept.get(path)
    same = kept is not None and kept.stamp == _stamp(file) and not set(how.also) - set(kept.sums)
    return same and place.still_there(path)


def _remember(together: Together, path: str, first: dict[str, str]) -> None:
    kept = next((place.kept[path] for place in together.alive if path in place.kept), None)
    if kept is not None and kept.size:
        first.setdefault(kept.sha512, path)


def _copied(
    together: Together,
    into: Sequence[Workplace],
    file: SourceFile,
    path: str,
    how: How,
    first: dict[str, str],
) -> str:
    """Copies one file; why it could not be, or nothing."""
    _refuse_taken(into, file, path)
    once = how.once and file.size > 0 and not path.lower().endswith(ALWAYS_KEPT)

    def twin(digest: str) -> str | None:
        other = first.get(digest, path)
        return other if once and other != path else None

    problem = ""
    for attempt in range(TRIES):
        time.sleep(PAUSE_S if attempt else 0)
        try:
            kept = together.write(
                path,
                chunks_of(file),
                into=into,
                stamp=_stamp(file),
                time_ns=file.time_ns,
                back=how.back,
                also=how.also,
                twin=twin,
            )
        except SourceError as error:
            problem = str(error)
        else:
            if kept.size:
                first.setdefault(kept.sha512, path)
            return ""
    together.each(lambda place: place.drop(path), only=into)
    return problem


def _refuse_taken(into: Sequence[Workplace], file: SourceFile, path: str) -> None:
    for place in into:
        kept = place.kept.get(path)
        if kept is not None and kept.stamp.rpartition(" ")[2] != file.name.hex():
            raise AuditError(
                f"{shown_name(path)}: is taken by another file of an earlier run; name a new place"
            )


def _refuse_gone(same: Mapping[Path, os.stat_result]) -> None:
    """Raises AuditError where a file failed since its whole card went away."""
    for dump, before in same.items():
        try:
            there = os.path.samestat(dump.stat(), before) and any(dump.iterdir())
        except OSError:
            there = False
        if not there:
            raise AuditError(
                f"{shown_name(str(dump))}: the dump went away; what is copied stays under a hidden name: "
                "bring it back, and run the same command again to go on"
            )


def planned_below(names: Mapping[bytes, str], files: Sequence[SourceFile], folder: str = PICTURES) -> Planned:
    """Each file with its path in the bag."""
    return [(file, f"{folder}/{names[file.name]}") for file in files]
