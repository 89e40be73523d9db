"""The scan: files of a photographer's dump become a table with one row a frame. Nothing is written."""

from __future__ import annotations

import gc
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from audit.disk.dumps import Dump, parts
from audit.message.shown import alike
from audit.scan.folder import Entry, tells_choice, walk

if TYPE_CHECKING:  # a worker that reads headers imports this room, and does without tables
    import pandas as pd

    from audit.scan.frames import Picture
    from audit.scan.reader import Row

__all__ = ["Scan", "scan", "walked"]

Progress = Callable[[int, int], None]
Read = Callable[[list[Path]], "Iterator[Row]"]


@dataclass(frozen=True)
class Scan:
    """What a scan found. Each of `files_seen` is in one row's `files` or in `passed_over` (path, reason).

    `beside` are the files passed over that may say which frames were chosen, for `choose`; `unlisted` the
    folders among those passed over of which not all is known. `unkept` says why nothing more is kept for
    the next run, "" where all is well.
    """

    root: Dump
    frames: pd.DataFrame
    passed_over: pd.DataFrame
    files_seen: int
    beside: tuple[Entry, ...] = ()
    unlisted: tuple[str, ...] = ()
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
    from audit.scan.copies import mark_same
    from audit.scan.frames import passed_over_table
    from audit.scan.known import KnownRows
    from audit.scan.reading import rows

    entries = walked(folder, skip)
    wanted = [entry for entry in entries if entry.kind in ("picture", "export")]
    known = KnownRows(folder, cache)
    pictures, reasons, claimed = _read(entries, wanted, partial(known.rows, read=read or rows), progress)
    known.close()
    left = [entry for entry in entries if entry.path in reasons and entry.shown not in claimed]
    passed = [(entry.shown, reasons[entry.path]) for entry in left]
    beside = tuple(entry for entry in entries if entry.kind == "passed" and tells_choice(entry))
    if not isinstance(folder, Path):
        mark_same(pictures, {entry.shown: entry.path for entry in wanted})
    unlisted = tuple(entry.shown for entry in entries if entry.role == "unlisted")
    frames, others = _grouped(pictures), passed_over_table(passed)
    return Scan(folder, frames, others, len(entries), beside, unlisted, known.fault)


def _grouped(pictures: list[Picture]) -> pd.DataFrame:
    """The table of the frames that the pictures make.

    All of them live until it is done. To look for dead ones among them, as Python does from time to time,
    would take as long as the work itself, and longer for each further frame.
    """
    from audit.scan.frames import frame_table, group

    collecting = gc.isenabled()
    gc.disable()
    try:
        return frame_table(group(pictures))
    finally:
        if collecting:
            gc.enable()


def _read(
    entries: list[Entry],
    wanted: list[Entry],
    rows: Callable[[list[Entry]], Iterator[Row]],
    progress: Progress | None,
) -> tuple[list[Picture], dict[Path, str], set[str]]:
    """The pictures, why each other file is passed over, and thumbnail files that belong to a picture."""
    from audit.scan.frames import add_thumbnail, picture

    beside = {_place(entry): entry for entry in entries if entry.kind == "thumbnail"}
    of: dict[Path, Entry] = {}
    for entry in wanted:
        thumbnail = beside.pop(_place(entry), None) if entry.ending == "crw" else None
        if thumbnail is not None:
            of[entry.path] = thumbnail
    found = rows([*wanted, *of.values()])
    pictures: list[Picture] = []
    reasons = {entry.path: entry.reason for entry in entries if entry.kind != "picture"}
    thumbed: list[Picture] = []
    for done, (entry, row) in enumerate(zip(wanted, found, strict=False), start=1):
        if entry.kind == "export" and not _exposed(row):
            reasons[entry.path] = row["problem"] or entry.reason
        else:
            reasons.pop(entry.path, None)
            pictures.append(picture(entry, row))
            if entry.path in of:
                thumbed.append(pictures[-1])
        if progress is not None:
            progress(done, len(wanted))
    for one, thumbnail, row in zip(thumbed, of.values(), found, strict=True):
        add_thumbnail(one, thumbnail, row)
    return pictures, reasons, {thumbnail.shown for thumbnail in of.values()}


def walked(dump: Dump, skip: Collection[Path] = ()) -> list[Entry]:
    """The files of every dump, by their paths in the table."""
    if isinstance(dump, Path):
        return walk(dump, skip)
    return [
        replace(entry, shown=dump.spelt.get(start + entry.shown, start + entry.shown))
        for start, top in parts(dump)
        for entry in walk(top, skip)
    ]


def _exposed(row: Row) -> bool:
    """Whether a file says how it was exposed."""
    return any(row.get(name) is not None for name in ("exposure_time_s", "f_number", "iso"))


def _place(entry: Entry) -> tuple[str, str]:
    return entry.folder, alike(entry.stem)
