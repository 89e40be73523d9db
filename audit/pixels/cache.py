"""Sketches kept between runs in one file, for speed alone: without it every run comes to the same result.

Whatever is wrong with the file (broken, locked, not writable, disk full, another program's) ends its use, and
nothing else. Who can write it can write sketches that are sound and wrong: it lies in the user's own folder.
"""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
import time
import zlib
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from audit.pixels.cache_file import open_kept
from audit.pixels.decode import MOST_PIXELS
from audit.pixels.shrink import SOURCES
from audit.pixels.sketch import COLOUR_CELL_PX, LONGEST_SIDE_PX, Sketch

MOST_SKETCH_BYTES = 1_000_000
"""Of a packed sketch, and of one unpacked: the largest has an eighth of it."""
_DTYPES = {"grey": "|u1", "colour": "|u1", "clipped": "<f8", "black": "<f8"}
_VALUES = ("source", "width_px", "height_px", "exact")
_COUNT_BYTES, _MOST_HEAD_BYTES = 4, 1000
_NINTHS = [3, 3]


def pack(sketch: Sketch) -> bytes:
    """The sketch's values and arrays, compressed."""
    arrays = {name: np.ascontiguousarray(getattr(sketch, name), dtype) for name, dtype in _DTYPES.items()}
    told: dict[str, Any] = {name: getattr(sketch, name) for name in _VALUES}
    told |= {name: array.shape for name, array in arrays.items()}
    head = json.dumps(told).encode()
    body = b"".join(array.tobytes() for array in arrays.values())
    return zlib.compress(len(head).to_bytes(_COUNT_BYTES, "big") + head + body, level=1)


def unpack(value: bytes) -> Sketch | None:
    """The sketch of which `pack` made these bytes, or None."""
    try:
        data = _expanded(value)
        start = _COUNT_BYTES + int.from_bytes(data[:_COUNT_BYTES], "big")
        if not _COUNT_BYTES < start <= _MOST_HEAD_BYTES:
            return None
        told = json.loads(data[_COUNT_BYTES:start])
        if not (_sound_values(told) and _sound_shapes(told)):
            return None
        arrays = _arrays(data, start, told)
    except (zlib.error, ValueError, RecursionError, MemoryError):
        return None
    if arrays is None or not all(_sound_shares(arrays[name]) for name in ("clipped", "black")):
        return None
    values: dict[str, Any] = arrays | {name: told[name] for name in _VALUES}
    return Sketch(**values)


def _expanded(value: bytes) -> bytes:
    """The bytes uncompressed. Raises ValueError where they are too many or not whole."""
    expander = zlib.decompressobj()
    data = expander.decompress(value, MOST_SKETCH_BYTES) if len(value) <= MOST_SKETCH_BYTES else b""
    if not expander.eof or expander.unused_data:  # only at its end is its check sum known to be right
        raise ValueError
    return data


def _sound_values(told: Any) -> bool:
    """Whether a head has all keys of a sketch, and its own values are those of some picture."""
    if not isinstance(told, dict) or set(told) != {*_VALUES, *_DTYPES}:
        return False
    source, width_px, height_px, exact = (told[name] for name in _VALUES)
    if not (isinstance(source, str) and source in SOURCES and isinstance(exact, bool)):
        return False
    return (
        _whole(width_px, height_px) and min(width_px, height_px) > 0 and width_px * height_px <= MOST_PIXELS
    )


def _sound_shapes(told: dict[str, Any]) -> bool:
    """Whether the arrays are shaped like those of a sketch."""
    grey = told["grey"]
    if not (isinstance(grey, list) and len(grey) == 2 and _whole(*grey)):
        return False
    if min(grey) < 1 or max(grey) > LONGEST_SIDE_PX:
        return False
    cells = [grey[0] // COLOUR_CELL_PX, grey[1] // COLOUR_CELL_PX, 3]
    return bool(told["colour"] == cells and told["clipped"] == told["black"] == _NINTHS)


def _whole(*values: object) -> bool:
    return all(type(value) is int for value in values)


def _arrays(data: bytes, start: int, told: dict[str, Any]) -> dict[str, NDArray[Any]] | None:
    """The arrays behind the head, if they end where the bytes do. Raises ValueError where there are fewer."""
    arrays: dict[str, NDArray[Any]] = {}
    for name, dtype in _DTYPES.items():
        shape = [int(side) for side in told[name]]
        count = int(np.prod(shape, dtype=int))
        # A copy, so that the sketch does not hold on to the bytes.
        arrays[name] = np.frombuffer(data, dtype, count, start).reshape(shape).copy()
        start += arrays[name].nbytes
    return arrays if start == len(data) else None


def _sound_shares(shares: NDArray[np.float64]) -> bool:
    return bool(((shares >= 0) & (shares <= 1)).all())


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
