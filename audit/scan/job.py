"""The job of a worker: one file's row."""

from __future__ import annotations

from pathlib import Path

from audit.disk.card import AHEAD
from audit.scan.containers.source import BUFFER
from audit.scan.reader import Row, plain, read_file


def expect(paths: list[str]) -> None:
    """Says which files come next."""
    AHEAD.expect(map(Path, paths), BUFFER)


def work(path: str, limit_s: float) -> Row:
    """What `read_file` gives, as plain data."""
    return plain(read_file(Path(path), limit_s))
