"""Where the numbers of a picture's structure lie: directories, segments, boxes, chunks."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

TIFF = re.compile(rb"II[*RU]\0|MM\0\*|IIRO|MMOR")
POINTERS = frozenset({0x8769, 0x8825, 0xA005, 0x014A, 0x927C, 0x002E, 0x00FE, 0x0111, 0x0117, 0x0201, 0x0202})
POINTERS |= {0xB000, 0xB001, 0xB002}
"""Tags that lead elsewhere or say how: a change of one may change every value."""
_BYTES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8}
_BOXES = {
    **dict.fromkeys((b"moov", b"trak", b"mdia", b"minf", b"stbl", b"iprp", b"ipco", b"jp2h"), 0),
    b"meta": 4,
    b"iinf": 6,
    b"uuid": 16,
}
"""Boxes that hold boxes, and behind how many bytes."""
_MOST = 4000


class Place(NamedTuple):
    """A number or some bytes: `tag` is the EXIF tag that it is all about, None where it is structure."""

    offset: int
    size: int
    order: str
    what: str
    tag: int | None = None


def places(data: bytes) -> list[Place]:
    """All of them."""
    found = [place for at in TIFF.finditer(data) for place in _tiff(data, at.start())]
    found += [place for at in re.finditer(rb"\xff\xd8\xff", data) for place in _jpeg(data, at.start())]
    if data[4:8] in (b"ftyp", b"JXL ", b"jP  "):
        found += _boxes(data, 0, len(data))
    if data[:4] == b"\x89PNG":
        found += _chunks(data, 8, "big", 4)
    if data[:4] == b"RIFF":
        found += _chunks(data, 12, "little", 0)
    if data[6:10] == b"HEAP":
        found += _heap(data, 26, len(data))
    return found[:_MOST]


def _number(data: bytes, offset: int, size: int, order: str) -> int:
    return int.from_bytes(data[offset : offset + size], order)  # type: ignore[arg-type]


def _tiff(data: bytes, base: int) -> Iterator[Place]:
    order = "little" if data[base : base + 1] == b"I" else "big"
    yield Place(base + 4, 4, order, "first directory")
    waiting, seen = [_number(data, base + 4, 4, order)], set[int]()
    while waiting:
        place = waiting.pop()
        at = base + place
        if not place or at in seen or at + 2 > len(data):
            continue
        seen.add(at)
        count = _number(data, at, 2, order)
        yield Place(at, 2, order, "entries")
        for entry in range(at + 2, at + 2 + 12 * min(count, 200), 12):
            if entry + 12 > len(data):
                break
            tag, kind = _number(data, entry, 2, order), _number(data, entry + 2, 2, order)
            much, value = _number(data, entry + 4, 4, order), _number(data, entry + 8, 4, order)
            of = None if tag in POINTERS else tag
            yield Place(entry, 2, order, "tag", of)
            yield Place(entry + 2, 2, order, "type", of)
            yield Place(entry + 4, 4, order, "count", of)
            yield Place(entry + 8, 4, order, "value", of)
            size = much * _BYTES.get(kind, 1)
            if tag in (0x8769, 0x8825, 0x014A):
                waiting.append(value)
            elif 4 < size < 100_000:
                yield Place(base + value, size, order, "text" if kind == 2 else "data", of)
        else:
            following = at + 2 + 12 * count
            yield Place(following, 4, order, "next directory")
            waiting.append(_number(data, following, 4, order))


def _jpeg(data: bytes, start: int) -> Iterator[Place]:
    at = start + 2
    while data[at : at + 1] == b"\xff" and at + 8 < len(data) and data[at + 1] not in (0xD9, 0xDA):
        length = _number(data, at + 2, 2, "big")
        yield Place(at, 2, "big", "marker")
        yield Place(at + 2, 2, "big", "segment length")
        if 0xC0 <= data[at + 1] <= 0xCF and length > 8:
            yield Place(at + 5, 2, "big", "height")
            yield Place(at + 7, 2, "big", "width")
        at += 2 + max(length, 2)
    yield Place(at, 2, "big", "marker")


def _boxes(data: bytes, start: int, end: int) -> Iterator[Place]:
    while start + 8 <= end:
        size, kind = _number(data, start, 4, "big"), data[start + 4 : start + 8]
        yield Place(start, 4, "big", "box size")
        yield Place(start + 4, 4, "big", "box kind")
        if size < 8:
            return
        if kind in _BOXES:
            yield from _boxes(data, start + 8 + _BOXES[kind], min(start + size, end))
        else:
            inner = range(start + 8, min(start + size, start + 72, end) - 3, 2)
            yield from (Place(at, 4, "big", "box field") for at in inner)
        start += size


def _chunks(data: bytes, at: int, order: str, behind: int) -> Iterator[Place]:
    while at + 8 <= len(data):
        first = behind > 0  # PNG has the length first
        length = _number(data, at if first else at + 4, 4, order)
        yield Place(at if first else at + 4, 4, order, "chunk length")
        yield Place(at + 4 if first else at, 4, order, "chunk kind")
        yield from (Place(at + 8 + n, 4, order, "chunk field") for n in range(0, min(length, 16) - 3, 4))
        at += 8 + length + (behind or length % 2)


def _heap(data: bytes, start: int, end: int) -> Iterator[Place]:
    table = start + _number(data, end - 4, 4, "little")
    yield Place(end - 4, 4, "little", "table of the heap")
    yield Place(table, 2, "little", "records")
    for record in range(table + 2, min(end - 4, table + 2 + 10 * 40) - 9, 10):
        yield Place(record, 2, "little", "record kind")
        yield Place(record + 2, 4, "little", "record length")
        yield Place(record + 6, 4, "little", "record place")
