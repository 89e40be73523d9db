"""WebP: the Exif block in its EXIF chunk, the picture's size in the extended header.

Layout: WebP container specification (RFC 9649), quoted from memory and proved on files that Pillow writes.
"""

from __future__ import annotations

from audit.scan.containers.found import Found, exif_blocks
from audit.scan.containers.source import Source

CHUNK_LIMIT = 4096
_FIRST = 12  # RIFF, the length, WEBP


def is_webp(head: bytes) -> bool:
    """Whether a file begins like a WebP."""
    return head[:4] == b"RIFF" and head[8:12] == b"WEBP"


def find(source: Source) -> Found:
    """The Exif block of a WebP file and the size of its picture; only the extended form holds either."""
    found = Found("WebP")
    offset = _FIRST
    for _ in range(CHUNK_LIMIT):
        head = source.at(offset, 8)
        length = int.from_bytes(head[4:], "little")
        if len(head) < 8 or offset + 8 + length > source.size:
            break
        if head[:4] == b"VP8X":
            size = source.at(offset + 12, 6)
            found.width_px = int.from_bytes(size[:3], "little") + 1
            found.height_px = int.from_bytes(size[3:], "little") + 1
        elif head[:4] == b"EXIF" and not found.blocks:
            found.blocks = exif_blocks(source.at(offset + 8, length))
        offset += 8 + length + length % 2
    return found
