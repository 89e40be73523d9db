"""Sketches kept between runs in one file, for speed alone: without it every run comes to the same result.

Whatever is wrong with the file (broken, locked, not writable, disk full, another program's) ends its use, and
nothing else. Who can write it can write sketches that are sound and wrong: it lies in the user's own folder.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from audit.pixels.cache_file import open_kept
from audit.pixels.packed import pack, unpack
from audit.pixels.sketch import Sketch

MOST_BYTES = 1_000_000_000
"""Of all sketches kept; past it those go that were not used for longest, down to nine tenths."""
WRITTEN_TOGETHER = 32
WAIT_S = 0.5
_SEAL_BYTES = hashlib.sha256().digest_size
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
        return self._guarded(lambda: self._get(_digest(key)), None)

    def put(self, key: str, sketch: Sketch) -> None:
        """Keeps a sketch; it is written together with the next few."""
        self._guarded(lambda: self._put(_digest(key), sketch), None)

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
        except Exception:  # whoever wrote the file: no fault of it may end an audit
            self._drop()
            return otherwise

    def _drop(self) -> None:
        file, self._file = self._file, None
        self._fresh.clear()
        self._used.clear()
        if file is not None:
            with suppress(sqlite3.Error):
                file.close()

    def _open(self, path: Path) -> None:
        # Small pictures of somebody's photographs: for nobody else to look at.
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        self._file = open_kept(path, WAIT_S)

    def _get(self, digest: bytes) -> Sketch | None:
        value = self._fresh.get(digest) or self._find(digest)
        packed = None if value is None else _unsealed(digest, value)
        sketch = None if packed is None else unpack(packed)
        if sketch is not None:
            self._used.add(digest)
        return sketch

    def _put(self, digest: bytes, sketch: Sketch) -> None:
        if self._file is None:
            return
        self._fresh[digest] = _sealed(digest, pack(sketch))
        if len(self._fresh) >= WRITTEN_TOGETHER:
            self._write()

    def _find(self, digest: bytes) -> bytes | None:
        if self._file is None:
            return None
        row = self._file.execute("SELECT value FROM sketch WHERE key = ?", (digest,)).fetchone()
        return row[0] if row is not None and isinstance(row[0], bytes) else None

    def _write(self) -> None:
        if self._file is None or not (self._fresh or self._used):
            return
        now = time.time()
        new = [(key, value, len(value), now) for key, value in self._fresh.items()]
        self._file.execute("BEGIN IMMEDIATE")
        # deletes: rows of our own file, whose table was found to be ours and no other's
        self._file.executemany("INSERT OR REPLACE INTO sketch VALUES (?, ?, ?, ?)", new)
        # deletes: a time of use in our own file
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
            # deletes: the oldest rows of our own file
            self._file.executemany("DELETE FROM sketch WHERE key = ?", old)
            self._file.execute("COMMIT")


def _digest(key: str) -> bytes:
    return hashlib.sha256(key.encode("utf-8", "surrogatepass")).digest()


def _sealed(digest: bytes, packed: bytes) -> bytes:
    """The bytes behind a check sum of key and bytes: a value that got under another key is none."""
    return hashlib.sha256(digest + packed).digest() + packed


def _unsealed(digest: bytes, value: bytes) -> bytes | None:
    packed = value[_SEAL_BYTES:]
    return packed if _sealed(digest, packed) == value else None
