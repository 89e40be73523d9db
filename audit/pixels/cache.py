"""Sketches kept between runs in one file: how one becomes bytes, and is judged when it comes back."""

from __future__ import annotations

import json
import os
import zlib
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.disk.kept import Kept
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
    """The sketch's values and arrays, with zlib's check sum.

    Not compressed: that spares a third of the space, and takes longer than a small picture does to decode.
    """
    arrays = {name: np.ascontiguousarray(getattr(sketch, name), dtype) for name, dtype in _DTYPES.items()}
    told: dict[str, Any] = {name: getattr(sketch, name) for name in _VALUES}
    told |= {name: array.shape for name, array in arrays.items()}
    head = json.dumps(told).encode()
    body = b"".join(array.tobytes() for array in arrays.values())
    return zlib.compress(len(head).to_bytes(_COUNT_BYTES, "big") + head + body, level=0)


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


def default_cache() -> Path:
    """The user's file for kept sketches: below $XDG_CACHE_HOME, or ~/.cache (XDG Base Directory)."""
    named = Path(os.environ.get("XDG_CACHE_HOME", ""))
    try:
        base = named if named.is_absolute() else Path.home() / ".cache"
    except RuntimeError:  # nobody's home: a place where no file can be made, so that none is used
        base = Path(os.devnull)
    return base / "cornerstop" / "pixels.sqlite"


class Cache(Kept[Sketch]):
    """A file of sketches by key."""

    def __init__(self, path: Path, most_bytes: int = MOST_BYTES) -> None:
        super().__init__(path, "sketch", pack, unpack, most_bytes)
