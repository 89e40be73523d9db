"""RW2: a TIFF with another magic number; what it lacks lies in the JPEG that it embeds."""

from __future__ import annotations

import struct

from audit.scan.containers import jpeg
from audit.scan.containers.found import Block, Found
from audit.scan.containers.source import Source
from audit.scan.containers.tiff import read_directory

# Borders of the picture on the sensor and the embedded JPEG, as found in real files.
_TOP, _LEFT, _BOTTOM, _RIGHT, _JPEG = 0x04, 0x05, 0x06, 0x07, 0x2E


def find(source: Source) -> Found:
    """The file as a TIFF block, then that of its embedded JPEG; the size from the sensor's borders."""
    found = Found("RW2", [Block(None)])
    offset = int.from_bytes(source.at(4, 4), "little")
    borders = [read_directory(source, offset, "<").get(tag, [0])[0] for tag in (_TOP, _LEFT, _BOTTOM, _RIGHT)]
    top, left, bottom, right = borders
    if bottom > top and right > left:
        found.width_px, found.height_px = right - left, bottom - top
    start, length = _embedded_jpeg(source, offset)
    if source.at(start, 2) == b"\xff\xd8":
        found.jpegs.append((start, length))
        found.blocks += jpeg.find_within(source, start, start + length).blocks
    return found


def _embedded_jpeg(source: Source, offset: int) -> tuple[int, int]:
    """Offset and length of the embedded JPEG; length 0 where there is none."""
    count = min(int.from_bytes(source.at(offset, 2), "little"), 512)
    table = source.at(offset + 2, 12 * count)
    for start in range(0, len(table) - 11, 12):
        tag, _, number, place = struct.unpack_from("<HHII", table, start)
        if tag == _JPEG:
            return place, number
    return 0, 0
