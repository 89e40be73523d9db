"""JPEG XL and JPEG 2000: the Exif block in a box of its own beside the picture.

Layouts: ISO/IEC 18181-2 by libjxl's description of it, and ISO/IEC 15444-1; that JPEG 2000 keeps EXIF in a
box with this identity is common practice, quoted from memory.
"""

from __future__ import annotations

from audit.message.text import marked
from audit.scan.containers.boxes import boxes, first
from audit.scan.containers.found import Found, exif_blocks
from audit.scan.containers.source import Source

XL_MAGIC, XL_BARE = b"\0\0\0\x0cJXL \r\n\x87\n", b"\xff\x0a"
J2_MAGIC, J2_BARE = b"\0\0\0\x0cjP  \r\n\x87\n", b"\xff\x4f\xff\x51"
_J2_EXIF = b"JpgTiffExif->JP2"
PACKED = marked("its EXIF block is packed with Brotli, which is not unpacked here")
BARE = marked("a bare codestream, which can hold no EXIF")


def find_xl(source: Source) -> Found:
    """The Exif block of a JPEG XL file: a 4-byte offset, and the block so many bytes behind it."""
    found = Found("JPEG XL")
    for box in boxes(source, 0, source.size):
        if box.kind == b"Exif" and not found.blocks:
            data = source.at(box.start, box.end - box.start)
            found.blocks = exif_blocks(data[4 + int.from_bytes(data[:4], "big") :])
        elif box.kind == b"brob" and source.at(box.start, 4) == b"Exif":
            found.problem = PACKED
    if found.blocks:
        found.problem = None
    return found


def find_2000(source: Source) -> Found:
    """The Exif block of a JPEG 2000 file and the size of its picture."""
    found = Found("JPEG 2000")
    for box in boxes(source, 0, source.size):
        if box.kind == b"jp2h":
            header = first(source, box.start, box.end, b"ihdr")
            size = source.at(header.start, 8) if header else b""
            found.height_px = int.from_bytes(size[:4], "big") or None
            found.width_px = int.from_bytes(size[4:], "big") or None
        elif box.kind == b"uuid" and not found.blocks and source.at(box.start, 16) == _J2_EXIF:
            found.blocks = exif_blocks(source.at(box.start + 16, box.end - box.start - 16))
    return found


def bare(label: str) -> Found:
    """A picture without a container around it."""
    return Found(label, problem=BARE)
