"""Puts a preview behind a picture, as cameras do: the Multi-Picture segment and what it points at.

Layout, tag numbers and types: CIPA DC-007 (Multi-Picture Format), from memory; the tests read the result back
with another library.
"""

from __future__ import annotations

import struct

from audit.demo.exif_block import Directory, long, raw_bytes, tiff_block

_SIGNATURE = b"MPF\0"
_PICTURE = 1 << 31 | 1 << 29 | 0x030000
"""Attribute of the first picture: has a dependent one, stands for the file, is the primary one."""
_PREVIEW = 1 << 30 | 0x010001
"""Attribute of the second: depends on the first, is a large thumbnail of VGA class."""


def with_preview(picture: bytes, preview: bytes) -> bytes:
    """A JPEG file whose first segment is the EXIF's, with a second JPEG behind it as large thumbnail."""
    if picture[2:4] != b"\xff\xe1":
        raise ValueError("the picture does not start with an EXIF segment")
    split = 4 + int.from_bytes(picture[4:6], "big")
    size = len(picture) + len(_segment(0, 0, 0))
    header_at = split + 4 + len(_SIGNATURE)  # offsets of the segment count from its own TIFF header
    segment = _segment(size, size - header_at, len(preview))
    return picture[:split] + segment + picture[split:] + preview


def _segment(picture_bytes: int, preview_offset: int, preview_bytes: int) -> bytes:
    entries = struct.pack("<3I2H", _PICTURE, picture_bytes, 0, 2, 0)
    entries += struct.pack("<3I2H", _PREVIEW, preview_bytes, preview_offset, 0, 0)
    index = Directory({0xB000: raw_bytes(b"0100"), 0xB001: long(2), 0xB002: raw_bytes(entries)})
    payload = _SIGNATURE + tiff_block([index])
    return b"\xff\xe2" + struct.pack(">H", len(payload) + 2) + payload
