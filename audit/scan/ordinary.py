"""The tags of an ordinary TIFF block, read from memory: what exifread gives, in a tenth of the time.

exifread is the reference. Whatever is not ordinary is left to it, so that it alone decides what odd or
damaged blocks mean; tests/scan/test_ordinary.py compares the two tag by tag.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator
from functools import lru_cache, partial
from itertools import chain, starmap
from typing import Any

from exifread.tags import IGNORE_TAGS
from exifread.tags.exif import EXIF_TAGS, GPS_TAGS, INTEROP_TAGS
from exifread.utils import Ratio

MOST_ENTRIES = 256
"""Of a directory; cameras write less than half of it."""
LONG_LIST = 1000
"""So many values, and exifread gives none of them."""
_HEAD, _INLINE = 8, 4  # bytes before the first directory, and of a value that stands in its entry
_TEXT = 2
_IGNORED = frozenset(IGNORE_TAGS)
_NAMES = {
    directory: {number: f"{directory} {entry[0]}" for number, entry in tags.items()}
    for directory, tags in (
        *(("Image", EXIF_TAGS), ("Thumbnail", EXIF_TAGS), ("EXIF", EXIF_TAGS)),
        *(("GPS", GPS_TAGS), ("Interoperability", INTEROP_TAGS)),
    )
}
_POINTERS = {
    "Image ExifOffset": "EXIF",
    "Image GPSInfo": "GPS",
    "EXIF InteroperabilityOffset": "Interoperability",
}
_MISPLACED = {
    *("Thumbnail GPSInfo", "EXIF GPSInfo"),
    *("Image InteroperabilityOffset", "Thumbnail InteroperabilityOffset"),
}
"""exifread follows these too."""

_ratio = lru_cache(maxsize=4096)(Ratio)  # most of a camera's are the same from frame to frame

Decoder = Callable[[bytes], Any]


def _text(data: bytes) -> str | bytes:
    text = data.partition(b"\0")[0]
    try:
        return text.decode()
    except UnicodeDecodeError:
        return text


def _each(layout: str, turned: Callable[[Iterator[Any]], Iterator[Any]]) -> tuple[int, Decoder]:
    """Bytes of one value, and what makes a list of them; `turned` is given the numbers of each."""
    one = struct.Struct(layout)
    return one.size, lambda data: list(turned(one.iter_unpack(data)))


def _kinds(order: str) -> dict[int, tuple[int, Decoder]]:
    """Bytes of one value of each TIFF type, and what exifread makes of those of all."""
    integers = {3: "H", 4: "I", 6: "b", 8: "h", 9: "i", 13: "I"}
    ratios, reals = {5: "II", 10: "ii"}, {11: "f", 12: "d"}
    return {
        1: (1, list),
        _TEXT: (1, _text),
        7: (1, list),
        **{kind: _each(order + one, chain.from_iterable) for kind, one in integers.items()},
        **{kind: _each(order + one, partial(starmap, _ratio)) for kind, one in ratios.items()},
        **{kind: _each(order + one, iter) for kind, one in reals.items()},  # exifread gives tuples of one
    }


_KINDS = {order: _kinds(order) for order in "<>"}


class _OddError(Exception):
    """Something that is left to exifread."""


def ordinary_tags(data: bytes) -> dict[str, Any] | None:
    """Values of a block's tags under exifread's names; None where anything is not as cameras write it."""
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(data[:4])
    if order is None:
        return None
    try:
        return _Block(data, order).read()
    except (_OddError, KeyError, struct.error):  # no TIFF type; a directory outside the block
        return None


class _Block:
    """A block while it is read."""

    def __init__(self, data: bytes, order: str) -> None:
        self._data, self._order, self._kinds = data, order, _KINDS[order]
        self._values: dict[str, Any] = {}
        self._tags = 0
        self._left = len(data)  # bytes that values may take: where they take more, some lie in each other

    def read(self) -> dict[str, Any]:
        """Raises _OddError or struct.error."""
        following = self._whole(self._directory(self._whole(4), "Image"))
        if following:
            following = self._whole(self._directory(following, "Thumbnail"))
        for pointer, directory in _POINTERS.items():
            if pointer in self._values:
                self._directory(self._pointed(pointer), directory)
        twice = len(self._values) < self._tags
        if following or twice or not _MISPLACED.isdisjoint(self._values):
            raise _OddError
        return self._values

    def _whole(self, place: int) -> int:
        return int(struct.unpack_from(self._order + "I", self._data, place)[0])

    def _pointed(self, pointer: str) -> int:
        place = self._values[pointer]
        if not isinstance(place, list) or len(place) != 1 or not isinstance(place[0], int):
            raise _OddError
        return place[0]

    def _directory(self, start: int, directory: str) -> int:
        """Takes the tags of a directory, and gives where it ends."""
        data, size, names = self._data, len(self._data), _NAMES[directory]
        if start < _HEAD:
            raise _OddError
        (number,) = struct.unpack_from(self._order + "H", data, start)
        end = start + 2 + 12 * number
        if number > MOST_ENTRIES or end > size:
            raise _OddError
        kinds, values, left = self._kinds, self._values, self._left
        at = start - 2  # of a value that stands in the entry itself
        for tag, kind, count, place in struct.iter_unpack(self._order + "HHII", data[start + 2 : end]):
            at += 12
            if tag in _IGNORED:
                continue
            each, decode = kinds[kind]
            length = each * count
            if length <= _INLINE:
                place = at
            left -= length
            if left < 0 or place + length > size:
                raise _OddError
            self._tags += 1
            name = names.get(tag) or f"{directory} Tag 0x{tag:04X}"
            listed = count < LONG_LIST or kind == _TEXT
            values[name] = decode(data[place : place + length]) if listed else []
        self._left = left
        return end
