"""What a worker is asked to do: files by their paths, answers as plain bytes. Each task may be done twice."""

from __future__ import annotations

import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path
from typing import Any

from audit.disk.dumps import Dump
from audit.pixels.sources import Mode, Sketches
from audit.scan.reader import read_file
from audit.scan.row_data import packed

Kept = tuple[bytes, bytes]
"""Key and sealed value, as a file of kept values holds them."""


def read_files(paths: list[Path]) -> list[bytes]:
    """The packed row of each file."""
    return [packed(read_file(path)) for path in paths]


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
