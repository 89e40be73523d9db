"""Rows of files that an earlier run has read, kept in the user's cache: a file that did not change is known.

A file is known by its path below its dump, its size, its time of change and the first 64 KiB of it. So a card
mounted elsewhere is known, and a changed file is not. Those bytes are read again each time: on a failing card
they change and nothing else does. What changes only behind them, with size and time set right, is not seen.

Rows with a problem or damage are not kept, since the next try may end better, nor are rows with a position,
which is written nowhere.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from pathlib import Path

import exifread

from audit.disk.card import SilentCardError, heads, statuses
from audit.disk.dumps import Dump
from audit.disk.kept import Kept, program
from audit.scan.containers.source import BUFFER
from audit.scan.folder import Entry
from audit.scan.note import about
from audit.scan.reader import HEAD_SUM, Row
from audit.scan.row_data import packed, unpacked

NAME = "headers.sqlite"
MOST_BYTES = 2_000_000_000
"""Of all rows kept: a thumbnail and 2 kB each, some 200,000 of them."""
ASKED_TOGETHER = 64
_POSITION = ("latitude_deg", "longitude_deg", "gps_at")


class KnownRows:
    """The rows of a dump's files that are known, and a place for those that were read."""

    def __init__(self, dump: Dump, cache: Path | None) -> None:
        """They lie beside `cache`, the file of small pictures; None: nothing is known, and nothing kept."""
        self._one_dump = isinstance(dump, Path)
        self._kept: Kept[Row] | None = None
        if cache is not None:
            self._kept = Kept(cache.with_name(NAME), "row", packed, unpacked, MOST_BYTES)
            self._reader = f"{program('scan', 'optics')}|{exifread.__version__}"
        self._seen: dict[Path, tuple[str, int]] = {}

    @property
    def fault(self) -> str:
        """What ended the use of the file, or ""."""
        return self._kept.fault if self._kept is not None else ""

    def rows(self, entries: Sequence[Entry], read: Callable[[list[Path]], Iterator[Row]]) -> Iterator[Row]:
        """A row for each file, in their order; `read` gives those of the files that are not known."""
        known = self._among(entries)
        fresh = read([entry.path for entry in entries if entry.path not in known])
        for entry in entries:
            row = known.pop(entry.path, None)
            if row is None:
                row = next(fresh)
                self._keep(entry.path, row)
            yield row

    def close(self) -> None:
        """Writes what is new, and closes the file."""
        if self._kept is not None:
            self._kept.close()

    def _among(self, entries: Sequence[Entry]) -> dict[Path, Row]:
        known: dict[Path, Row] = {}
        if self._kept is not None:
            with suppress(SilentCardError):  # it is told where the files are read
                for start in range(0, len(entries), ASKED_TOGETHER):
                    known |= self._asked(entries[start : start + ASKED_TOGETHER], self._kept)
        return known

    def _keep(self, path: Path, row: Row) -> None:
        key, size = self._seen.pop(path, ("", 0))
        if self._kept is not None and key and row.get("size_bytes") == size and _may_be_kept(row):
            self._kept.put(key, row)

    def _asked(self, entries: Sequence[Entry], kept: Kept[Row]) -> dict[Path, Row]:
        found: dict[Path, Row] = {}
        for entry, status in zip(entries, statuses([entry.path for entry in entries]), strict=True):
            if status is None:
                continue
            below = entry.shown if self._one_dump else entry.shown.partition("/")[2]
            key = f"{self._reader}|{below}|{status.st_size}|{status.st_mtime_ns}"
            self._seen[entry.path] = key, status.st_size
            row = kept.get(key)
            if row is not None:
                found[entry.path] = row
        sums = {p: zlib.crc32(head or b"") for p, head in zip(found, heads(list(found), BUFFER), strict=True)}
        return {path: row for path, row in found.items() if row.get(HEAD_SUM) == sums[path]}


def _may_be_kept(row: Row) -> bool:
    return (
        row["problem"] is None
        and row.get(HEAD_SUM) is not None
        and all(about(note) not in ("damage", "second try") for note in row["notes"])
        and all(row.get(name) is None for name in _POSITION)
    )
