"""JPEG: the Exif block in its APP1 segment, the picture's size in the frame header, previews behind it."""

from __future__ import annotations

from audit.scan.containers.found import Block, Found
from audit.scan.containers.jpeg_header import FRAME_HEADERS, Segment, read_frame_header, segments
from audit.scan.containers.multi_picture import SIGNATURE, previews
from audit.scan.containers.source import Source
from audit.scan.note import Note

EXIF_SIGNATURE = b"Exif\0"
ICC_SIGNATURE = b"ICC_PROFILE\0\1"
"""Followed by how many parts it has; this is the first, which holds the name (ICC.1, annex B)."""


def find(source: Source) -> Found:
    """The first Exif block of a JPEG file and the size of its picture."""
    return find_within(source, 0, source.size)


def find_within(source: Source, start: int, end: int) -> Found:
    """As `find`, for a JPEG that lies between two offsets of another file."""
    found = Found("JPEG")
    for segment in segments(source, start, end):
        if segment.fault:
            found.notes.append(Note(segment.fault, "damage"))
        else:
            _take(source, segment, found)
    return found


def _take(source: Source, segment: Segment, found: Found) -> None:
    marker, offset, length, _ = segment
    if marker == 0xE1 and not found.blocks and source.at(offset, 5) == EXIF_SIGNATURE:
        block = source.at(offset + 6, length - 6)
        if block[:2] in (b"II", b"MM"):
            found.blocks.append(Block(block))
    elif marker in FRAME_HEADERS and found.width_px is None:
        header = read_frame_header(source, segment)
        if header is not None:
            found.width_px, found.height_px = header.width_px or None, header.height_px or None
            found.bits = header.precision_bits
    elif marker == 0xE2 and found.profile is None and source.at(offset, 13) == ICC_SIGNATURE:
        found.profile = source.at(offset + 14, length - 14)
    elif marker == 0xE2 and not found.jpegs and source.at(offset, len(SIGNATURE)) == SIGNATURE:
        found.jpegs += previews(source, offset + len(SIGNATURE), length - len(SIGNATURE))
