"""Values kept between runs in one file, for speed alone: without it every run comes to the same result.

Whatever is wrong with the file (broken, locked, not writable, disk full, another program's) ends its use, and
nothing else. Who can write it can write values that are sound and wrong: it lies in the user's own folder.
"""

from __future__ import annotations

import hashlib
import sqlite3
import time
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Generic, TypeVar

from audit.disk.kept_file import ForeignFileError, open_kept
from audit.message.shown import shown_name

WRITTEN_TOGETHER_BYTES = 2_000_000
MOST_VALUE_BYTES = 1_000_000
"""Of one value; what is larger is not kept."""
WAIT_S = 0.5
USE_TOLD_AFTER_S = 86_400.0
"""A use is written down once a day: SQLite writes the whole value again for it."""
_SEAL_BYTES = hashlib.sha256().digest_size
_Value = TypeVar("_Value")
_Answer = TypeVar("_Answer")


class Kept(Generic[_Value]):
    """A file of values by key. No method raises; after the first fault nothing is kept any more.

    `fault` says which file and what it was, "" before it.
    """

    def __init__(
        self,
        path: Path,
        table: str,
        pack: Callable[[_Value], bytes],
        unpack: Callable[[bytes], _Value | None],
        most_bytes: int,
    ) -> None:
        """`unpack` judges what it is given: None where `pack` did not make it.

        Past `most_bytes` in all, those go that were not used for longest, down to nine tenths.
        """
        self._table, self._pack, self._unpack, self._most_bytes = table, pack, unpack, most_bytes
        self._fresh: dict[bytes, bytes] = {}
        self._fresh_bytes = 0
        self._used: set[bytes] = set()
        self._file: sqlite3.Connection | None = None
        self.fault = ""
        self._name = shown_name(str(path))
        self._guarded(lambda: self._open(path), None)

    @property
    def usable(self) -> bool:
        """Whether anything is kept."""
        return self._file is not None

    def get(self, key: str) -> _Value | None:
        """The value kept under a key, or None."""
        return self._guarded(lambda: self._get(_digest(key)), None)

    def put(self, key: str, value: _Value) -> None:
        """Keeps a value; it is written together with the next few."""
        self._guarded(lambda: self._put(_digest(key), value), None)

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
        except Exception as error:  # whoever wrote the file: no fault of it may end an audit
            self.fault = self.fault or f"{self._name}: {_told(error)}"
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
        # What somebody's photographs show and tell: for nobody else to look at.
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        self._file = open_kept(path, self._table, WAIT_S)

    def _get(self, digest: bytes) -> _Value | None:
        sealed = self._fresh.get(digest) or self._find(digest)
        packed = None if sealed is None else _unsealed(digest, sealed)
        return None if packed is None else self._unpack(packed)

    def _put(self, digest: bytes, value: _Value) -> None:
        packed = self._pack(value) if self._file is not None else b""
        if not 0 < len(packed) <= MOST_VALUE_BYTES:
            return
        self._fresh[digest] = _sealed(digest, packed)
        self._fresh_bytes += len(packed)
        if self._fresh_bytes >= WRITTEN_TOGETHER_BYTES:
            self._write()

    def _find(self, digest: bytes) -> bytes | None:
        if self._file is None:
            return None
        asked = f"SELECT value, used FROM {self._table} WHERE key = ?"
        value, used = self._file.execute(asked, (digest,)).fetchone() or (None, None)
        if not isinstance(value, bytes):
            return None
        if not (isinstance(used, float) and 0 <= time.time() - used < USE_TOLD_AFTER_S):
            self._used.add(digest)
        return value

    def _write(self) -> None:
        if self._file is None or not (self._fresh or self._used):
            return
        now = time.time()
        new = [(key, value, len(value), now) for key, value in self._fresh.items()]
        used = [(now, key) for key in self._used]
        self._file.execute("BEGIN IMMEDIATE")
        # deletes: rows of our own file, whose table was found to be ours and no other's
        self._file.executemany(f"INSERT OR REPLACE INTO {self._table} VALUES (?, ?, ?, ?)", new)
        # deletes: a time of use in our own file
        self._file.executemany(f"UPDATE {self._table} SET used = ? WHERE key = ?", used)
        self._file.execute("COMMIT")
        self._fresh.clear()
        self._fresh_bytes = 0
        self._used.clear()

    def _shrink(self) -> None:
        if self._file is None:
            return
        total = self._file.execute(f"SELECT TOTAL(bytes) FROM {self._table}").fetchone()[0]
        if total > self._most_bytes:
            kept = self._most_bytes * 0.9
            sums = f"SELECT key, SUM(bytes) OVER (ORDER BY used DESC, key) FROM {self._table}"
            old = [(key,) for key, sum_bytes in self._file.execute(sums) if sum_bytes > kept]
            self._file.execute("BEGIN IMMEDIATE")
            # deletes: the oldest rows of our own file
            self._file.executemany(f"DELETE FROM {self._table} WHERE key = ?", old)
            self._file.execute("COMMIT")


@cache
def program(*rooms: str) -> str:
    """A digest of the program's files in some of its rooms, on which a kept value depends too."""
    digest = hashlib.sha256()
    package = Path(__file__).parents[1]
    for file in sorted(file for room in rooms for file in (package / room).rglob("*.py")):
        digest.update(file.read_bytes())
    return digest.hexdigest()


def _told(error: Exception) -> str:
    """What went wrong, in words for the terminal."""
    if isinstance(error, ForeignFileError):
        return "not as cornerstop writes it, so it is left alone"
    told = error.strerror if isinstance(error, OSError) else str(error)
    return told or type(error).__name__


def _digest(key: str) -> bytes:
    return hashlib.sha256(key.encode("utf-8", "surrogatepass")).digest()


def _sealed(digest: bytes, packed: bytes) -> bytes:
    """The bytes behind a check sum of key and bytes: a value that got under another key is none."""
    return hashlib.sha256(digest + packed).digest() + packed


def _unsealed(digest: bytes, value: bytes) -> bytes | None:
    packed = value[_SEAL_BYTES:]
    return packed if _sealed(digest, packed) == value else None
