"""Sketches kept between runs in one file, for speed alone: without it every run comes to the same result.

Whatever is wrong with the file (broken, locked, not writable, disk full) ends its use, and nothing else.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from audit.measure.pixels.packed import pack, unpack
from audit.model.sketch import Sketch

MOST_BYTES = 1_000_000_000
"""Of all sketches kept; past it those go that were not used for longest, down to nine tenths."""
WRITTEN_TOGETHER = 32
WAIT_S = 0.5
_LAYOUT = "CREATE TABLE IF NOT EXISTS sketch (key BLOB PRIMARY KEY, value BLOB, bytes INTEGER, used REAL)"
_OLDEST_LAST = "SELECT key, SUM(bytes) OVER (ORDER BY used DESC, key) FROM sketch"
_Answer = TypeVar("_Answer")


def default_cache() -> Path:
    """The user's file for kept sketches: below $XDG_CACHE_HOME, or ~/.cache (XDG Base Directory)."""
    named = Path(os.environ.get("XDG_CACHE_HOME", ""))
    try:
        base = named if named.is_absolute() else Path.home() / ".cache"
    except RuntimeError:  # nobody's home: a place where no file can be made, so that none is used
        base = Path(os.devnull)
    return base / "cornerstop" / "pixels.sqlite"


class Cache:
    """A file of sketches by key. No method raises; after the first fault nothing is kept any more."""

    def __init__(self, path: Path, most_bytes: int = MOST_BYTES) -> None:
        self._most_bytes = most_bytes
        self._fresh: dict[bytes, bytes] = {}
        self._used: set[bytes] = set()
        self._file: sqlite3.Connection | None = None
        self._guarded(lambda: self._open(path), None)

    @property
    def usable(self) -> bool:
        """Whether anything is kept."""
        return self._file is not None

    def get(self, key: str) -> Sketch | None:
        """The sketch kept under a key, or None."""
        digest = _digest(key)
        value = self._fresh.get(digest) or self._guarded(lambda: self._find(digest), None)
        return unpack(value) if value is not None else None

    def put(self, key: str, sketch: Sketch) -> None:
        """Keeps a sketch; it is written together with the next few."""
        if self._file is not None:
            self._fresh[_digest(key)] = pack(sketch)
        if len(self._fresh) >= WRITTEN_TOGETHER:
            self._guarded(self._write, None)

    def close(self) -> None:
        """Writes what is new, lets the oldest go where there is too much, and closes the file."""
        self._guarded(self._write, None)
        self._guarded(self._shrink, None)
        self._drop()

    def __del__(self) -> None:
        self.close()

    def _guarded(self, work: Callable[[], _Answer], otherwise: _Answer) -> _Answer:
        try:
            return work()
        except (sqlite3.Error, OSError, ValueError):
            self._drop()
            return otherwise

    def _drop(self) -> None:
        file, self._file = self._file, None
        self._fresh.clear()
        self._used.clear()
        if file is not None:
            file.close()

    def _open(self, path: Path) -> None:
        # Small pictures of somebody's photographs: for nobody else to look at.
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        self._file = sqlite3.connect(path, timeout=WAIT_S, isolation_level=None, check_same_thread=False)
        self._file.execute(_LAYOUT)

    def _find(self, digest: bytes) -> bytes | None:
        if self._file is None:
            return None
        row = self._file.execute("SELECT value FROM sketch WHERE key = ?", (digest,)).fetchone()
        if row is None or not isinstance(row[0], bytes):
            return None
        self._used.add(digest)
        return row[0]

    def _write(self) -> None:
        if self._file is None or not (self._fresh or self._used):
            return
        now = time.time()
        new = [(key, value, len(value), now) for key, value in self._fresh.items()]
        self._file.execute("BEGIN IMMEDIATE")
        self._file.executemany("INSERT OR REPLACE INTO sketch VALUES (?, ?, ?, ?)", new)
        self._file.executemany("UPDATE sketch SET used = ? WHERE key = ?", [(now, key) for key in self._used])
        self._file.execute("COMMIT")
        self._fresh.clear()
        self._used.clear()

    def _shrink(self) -> None:
        if self._file is None:
            return
        total = self._file.execute("SELECT TOTAL(bytes) FROM sketch").fetchone()[0]
        if total > self._most_bytes:
            kept = self._most_bytes * 0.9
            old = [(key,) for key, sum_bytes in self._file.execute(_OLDEST_LAST) if sum_bytes > kept]
            self._file.execute("BEGIN IMMEDIATE")
            self._file.executemany("DELETE FROM sketch WHERE key = ?", old)
            self._file.execute("COMMIT")


def _digest(key: str) -> bytes:
    return hashlib.sha256(key.encode("utf-8", "surrogatepass")).digest()
