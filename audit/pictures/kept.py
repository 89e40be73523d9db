"""Larger views and cuts kept between runs: the next report decodes no photograph that is as it was."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future
from pathlib import Path

import PIL

from audit.crew.crew import crew_at_work, result
from audit.disk.dumps import Dump
from audit.disk.kept import Kept, program
from audit.pictures.asking import ahead
from audit.pictures.originals import LOOKED_AT, Row, Seen
from audit.pictures.seen_data import packed, unpacked
from audit.pixels.decode import PixelsUnreadable
from audit.pixels.files import look_at

NAME = "views.sqlite"
MOST_BYTES = 1_000_000_000
AHEAD = 2
"""Frames for each worker that are made before they are needed."""


class Views:
    """What `originals.seen` gives, from the file beside `cache` where it is known; None: nothing is kept."""

    def __init__(self, dump: Dump, cache: Path | None) -> None:
        self._dump = dump
        self._kept: Kept[Seen] | None = None
        if cache is not None:
            self._kept = Kept(cache.with_name(NAME), "seen", packed, unpacked, MOST_BYTES)

    def each(self, wanted: Iterable[tuple[Row, bool]]) -> Iterator[Seen]:
        """As `originals.seen` for each row, in their order; with True its cuts too.

        A few are made ahead. Only what was found whole is kept: what went wrong is tried again.
        """
        waiting: deque[tuple[str, Seen | Future[Seen]]] = deque()
        for row, full in wanted:
            waiting.append(self._begun(row, full))
            if len(waiting) > AHEAD * crew_at_work().workers:
                yield self._ended(*waiting.popleft())
        while waiting:
            yield self._ended(*waiting.popleft())

    def _begun(self, row: Row, full: bool) -> tuple[str, Seen | Future[Seen]]:
        """The key under which it is kept, "" for nowhere; and what is known, or will be."""
        key = self._key(row, full)
        known = self._kept.get(key) if self._kept is not None and key else None
        return key, known or ahead(self._dump, row, full=full)

    def _ended(self, key: str, made: Seen | Future[Seen]) -> Seen:
        if isinstance(made, Seen):
            return made
        found = result(made)
        if self._kept is not None and key and found.larger is not None and not found.why_no_cuts:
            self._kept.put(key, found)
        return found

    def _key(self, row: Row, full: bool) -> str:
        if self._kept is None or not self._kept.usable:
            return ""
        try:
            files = [look_at(self._dump, shown).identity for shown in row["files"]]
        except PixelsUnreadable:
            return ""
        told = [str(row.get(name)) for name in ("preview_file", *LOOKED_AT)]
        return "|".join([program("pictures", "pixels"), PIL.__version__, str(full), *told, *files])

    def close(self) -> None:
        """Writes what is new, and closes the file."""
        if self._kept is not None:
            self._kept.close()
