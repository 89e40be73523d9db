"""RAF: the Exif block is that of the embedded JPEG, whose place stands in the header."""

from __future__ import annotations

from audit.message.text import marked
from audit.scan.containers import jpeg
from audit.scan.containers.found import Found
from audit.scan.containers.source import Source

_JPEG_OFFSET, _JPEG_LENGTH = 84, 88  # big-endian, as found in real files


def find(source: Source) -> Found:
    """The Exif block of the embedded JPEG. The raw's own size is not read: it misleads for some sensors."""
    start = int.from_bytes(source.at(_JPEG_OFFSET, 4), "big")
    length = int.from_bytes(source.at(_JPEG_LENGTH, 4), "big")
    found = Found("RAF")
    if source.at(start, 2) != b"\xff\xd8":
        found.problem = marked("the embedded JPEG that holds the EXIF block is missing")
        return found
    found.jpegs.append((start, length))
    found.blocks = jpeg.find_within(source, start, start + length).blocks
    found.notes.append(marked("the size in pixels is that of the embedded picture"))
    return found
