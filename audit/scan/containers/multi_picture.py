"""The Multi-Picture segment of a JPEG, which says where the previews behind the picture lie.

Layout: CIPA DC-007 (Multi-Picture Format), quoted from memory; the tests read it back with another library.
"""

from __future__ import annotations

import struct

from audit.scan.containers.source import Source

SIGNATURE = b"MPF\0"
ENTRY_LIMIT = 64  # directory entries and pictures looked at
_ENTRIES = 0xB002
_ENTRY_BYTES = 16  # attribute, size, offset, two dependent pictures
_LARGE_THUMBNAIL = 0x01  # first of the attribute's three bytes of type; the others name the class
_JPEG_FORMAT = 0


def previews(source: Source, start: int, length: int) -> list[tuple[int, int]]:
    """Offset and length of each large thumbnail, from the segment's content after its signature.

    Offsets in the segment count from its TIFF header, which starts at `start`.
    """
    data = source.at(start, length)
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(data[:4])
    if order is None or len(data) < 8:
        return []
    places = []
    for attribute, size, offset in _entries(data, order):
        if attribute >> 24 & 7 == _JPEG_FORMAT and attribute >> 16 & 0xFF == _LARGE_THUMBNAIL and offset:
            places.append((start + offset, size))
    return places


def _entries(data: bytes, order: str) -> list[tuple[int, int, int]]:
    """Attribute, size and offset of each picture that the segment lists."""
    directory = struct.unpack_from(order + "I", data, 4)[0]
    count = int.from_bytes(data[directory : directory + 2], "little" if order == "<" else "big")
    table = data[directory + 2 : directory + 2 + 12 * min(count, ENTRY_LIMIT)]
    for place in range(0, len(table) - 11, 12):
        tag, _, size, offset = struct.unpack_from(order + "HHII", table, place)
        if tag == _ENTRIES:
            rows = data[offset : offset + min(size, ENTRY_LIMIT * _ENTRY_BYTES)]
            starts = range(0, len(rows) - _ENTRY_BYTES + 1, _ENTRY_BYTES)
            return [struct.unpack_from(order + "3I", rows, start) for start in starts]
    return []
