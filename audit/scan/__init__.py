"""The scan: files of a photographer's dump become a table with one row a frame. Nothing is written."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pandas as pd

from audit.disk.dumps import Dump, parts
from audit.scan.copies import mark_same
from audit.scan.folder import Entry, tells_choice, walk
from audit.scan.frames import Picture, add_thumbnail, frame_table, group, passed_over_table, picture
from audit.scan.known import KnownRows
from audit.scan.reader import read_file

__all__ = ["Scan", "scan", "walked"]

Progress = Callable[[int, int], None]
Read = Callable[[list[Path]], Iterator[dict[str, Any]]]


@dataclass(frozen=True)
class Scan:
    """What a scan found. Each of `files_seen` is in one row's `files` or in `passed_over` (path, reason).

    `beside` are the files passed over that may say which frames were chosen, for `choose`. `unkept` says why
    nothing more is kept for the next run, "" where all is well.
    """

    root: Dump
    frames: pd.DataFrame
    passed_over: pd.DataFrame
    files_seen: int
    beside: tuple[Entry, ...] = ()
    unkept: str = ""


def scan(
    folder: Dump,
    *,
    skip: Collection[Path] = (),
    cache: Path | None = None,
    read: Read | None = None,
    progress: Progress | None = None,
) -> Scan:
    """Reads every picture below `folder`, or in several dumps, into a table with the scan columns.

    `skip` are folders of our own output, which are neither walked nor counted. `cache` is the file of small
    pictures, beside which what was read is kept for the next run. `read` gives the row of each file of a
    list, if files are not to be read here. `progress` is called with the number of pictures read and of all
    pictures. Raises `AuditError` where the folder cannot be listed.
    """
    entries = walked(folder, skip)
    thumbnails = {_place(entry): entry for entry in entries if entry.kind == "thumbnail"}
    wanted = [entry for entry in entries if entry.kind in ("picture", "export")]
    pictures: list[Picture] = []
    claimed: set[str] = set()
    reasons = {entry.path: entry.reason for entry in entries if entry.kind != "picture"}
    known = KnownRows(folder, cache)
    for done, (entry, row) in enumerate(zip(wanted, known.rows(wanted, read or _read), strict=True), start=1):
        if entry.kind == "export" and not _exposed(row):
            reasons[entry.path] = row["problem"] or entry.reason
        else:
            reasons.pop(entry.path, None)
            pictures.append(picture(entry, row))
        thumbnail = thumbnails.get(_place(entry)) if entry.ending == "crw" else None
        if thumbnail is not None and thumbnail.shown not in claimed:
            claimed.add(thumbnail.shown)
            add_thumbnail(pictures[-1], thumbnail, read_file(thumbnail.path))
        if progress is not None:
            progress(done, len(wanted))
    known.close()
    left = [entry for entry in entries if entry.path in reasons and entry.shown not in claimed]
    passed = [(entry.shown, reasons[entry.path]) for entry in left]
    beside = tuple(entry for entry in entries if entry.kind == "passed" and tells_choice(entry))
    if not isinstance(folder, Path):
        mark_same(pictures, {entry.shown: entry.path for entry in wanted})
    frames = frame_table(group(pictures))
    return Scan(folder, frames, passed_over_table(passed), len(entries), beside, known.fault)


def _read(paths: list[Path]) -> Iterator[dict[str, Any]]:
    return map(read_file, paths)


def walked(dump: Dump, skip: Collection[Path] = ()) -> list[Entry]:
    """The files of every dump, by their paths in the table."""
    if isinstance(dump, Path):
        return walk(dump, skip)
    return [
        replace(entry, shown=dump.spelt.get(start + entry.shown, start + entry.shown))
        for start, top in parts(dump)
        for entry in walk(top, skip)
    ]


def _exposed(row: dict[str, Any]) -> bool:
    """Whether a file says how it was exposed."""
    return any(row.get(name) is not None for name in ("exposure_time_s", "f_number", "iso"))


def _place(entry: Entry) -> tuple[str, str]:
    return entry.folder, entry.stem.casefold()
