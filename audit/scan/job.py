"""The job of a worker: one file's row."""

from __future__ import annotations

from pathlib import Path

from audit.scan.reader import Row, plain, read_file


def work(path: str, limit_s: float) -> Row:
    """What `read_file` gives, as plain data."""
    return plain(read_file(Path(path), limit_s))
