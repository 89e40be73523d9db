"""Files of what is kept between runs, spoilt in every way."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

WAYS = ("noise", "folder", "foreign", "torn", "locked")


@contextmanager
def spoilt(file: Path, how: str) -> Iterator[bytes]:
    """What lies in the file once it is spoilt; one that is locked is let go with the block."""
    other = None
    if how == "noise":
        file.write_bytes(os.urandom(20_000))
    elif how == "folder":
        file.unlink()
        file.mkdir()
    elif how == "foreign":
        file.unlink()
        with sqlite3.connect(file) as made:
            made.execute("CREATE TABLE mine (name TEXT)")
        made.close()
    elif how == "torn":
        file.write_bytes(file.read_bytes()[:9000])
    else:
        other = sqlite3.connect(file, isolation_level=None)
        other.execute("BEGIN EXCLUSIVE")
    yield file.read_bytes() if file.is_file() else b""
    if other is not None:
        other.close()
