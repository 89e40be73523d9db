"""The job of a worker: one file's row, with the notes as pairs of the words and what they are about."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from audit.scan.note import about
from audit.scan.reader import read_file


def work(path: str, limit_s: float) -> dict[str, Any]:
    """What `read_file` gives, as plain data."""
    row = read_file(Path(path), limit_s)
    return {**row, "notes": [[note, about(note)] for note in row["notes"]]}
