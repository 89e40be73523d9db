"""What a worker is asked to do: files by their paths, answers as plain bytes. Each task may be done twice."""

from __future__ import annotations

import atexit
import sqlite3
import tempfile
from contextlib import closing
from functools import cache
from pathlib import Path
from typing import Any

from audit.crew.crew import Crew
from audit.disk.dumps import Dump
from audit.pixels.sources import Mode, Sketches
from audit.scan.reading import rows
from audit.scan.row_data import packed

Kept = tuple[bytes, bytes]
"""Key and sealed value, as a file of kept values holds them."""


def read_files(paths: list[Path], limit_s: float) -> list[bytes]:
    """The packed row of each file, which may cost `limit_s` of the processor's work."""
    _crew(limit_s)
    return [packed(row) for row in rows(paths)]


@cache
def _crew(limit_s: float) -> None:
    """A process that reads for this worker as long as it lives: a bad file ends that one, and no worker."""
    atexit.register(Crew(1, limit_s).__enter__().close)


def look_at_frames(dump: Dump, mode: Mode, rows: list[dict[str, Any]]) -> list[Kept]:
    """The small pictures of some frames, as a file of kept ones holds them; those that have one."""
    with tempfile.TemporaryDirectory(prefix="cornerstop-") as place:
        file = Path(place) / "pixels.sqlite"
        with Sketches(dump, mode, file) as pictures:
            for row in rows:
                pictures.of(row)
        if not file.exists():
            return []
        with closing(sqlite3.connect(file)) as kept:
            return kept.execute("SELECT key, value FROM sketch").fetchall()
