"""A sketch as bytes and back, without loss; bytes that hold no sketch give None."""

from __future__ import annotations

import json
import zlib
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.model.sketch import Sketch

MOST_BYTES = 4_000_000
_DTYPES = {"grey": "|u1", "colour": "|u1", "clipped": "<f8", "black": "<f8"}
_VALUES = ("source", "width_px", "height_px", "exact")
_COUNT_BYTES = 4


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
        expander = zlib.decompressobj()
        data = expander.decompress(value, MOST_BYTES)
        if not expander.eof:  # only then is its check sum known to be right
            return None
        start = _COUNT_BYTES + int.from_bytes(data[:_COUNT_BYTES], "big")
        told = json.loads(data[_COUNT_BYTES:start])
        arrays: dict[str, NDArray[Any]] = {}
        for name, dtype in _DTYPES.items():
            count = int(np.prod(told[name], dtype=int))
            # A copy, so that the sketch does not hold on to the bytes.
            arrays[name] = np.frombuffer(data, dtype, count, start).reshape(told[name]).copy()
            start += arrays[name].nbytes
        values: dict[str, Any] = arrays | {name: told[name] for name in _VALUES}
        return Sketch(**values)
    except (zlib.error, ValueError, KeyError, TypeError, ArithmeticError, RecursionError, MemoryError):
        return None
