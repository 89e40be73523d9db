"""JPEG: the Exif block in its APP1 segment, and the picture's size in the frame header."""

from __future__ import annotations

from audit.scan.containers.found import Block, Found
from audit.scan.containers.source import Source

EXIF_SIGNATURE = b"Exif\0"
_NO_LENGTH = {0x01, *range(0xD0, 0xD9)}  # markers without a length: TEM, RST0 to RST7, SOI
_FRAME_HEADERS = set(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_END = {0xD9, 0xDA}  # end of image, start of scan: what follows is picture data
SEGMENT_LIMIT = 4096


def find(source: Source) -> Found:
    """The first Exif block of a JPEG file and the size of its picture."""
    return find_within(source, 0, source.size)


def find_within(source: Source, start: int, end: int) -> Found:
    """As `find`, for a JPEG that lies between two offsets of another file."""
    found = Found("JPEG")
    offset = start + 2
    end = min(end, source.size)
    for _ in range(SEGMENT_LIMIT):
        marker, offset = _next_marker(source, offset, end)
        if marker is None:
            found.notes.append(
                "the JPEG header ends before the picture starts: the file is cut short or damaged"
            )
            break
        if marker in _END:
            break
        if marker in _NO_LENGTH:
            continue
        length = int.from_bytes(source.at(offset, 2), "big")
        if length < 2 or offset + 2 > end:
            found.notes.append("the JPEG header is damaged: a segment has no length")
            break
        _take(source, marker, offset + 2, min(length - 2, end - offset - 2), found)
        offset += length
    return found


def _next_marker(source: Source, offset: int, end: int) -> tuple[int | None, int]:
    """Marker code at the offset (fill bytes skipped) and the offset after it; None where there is none."""
    if offset + 2 > end or source.at(offset, 1) != b"\xff":
        return None, offset
    run = source.at(offset + 1, min(64, end - offset - 1))
    code = run.lstrip(b"\xff")
    if not code:
        return None, offset
    return code[0], offset + 2 + len(run) - len(code)


def _take(source: Source, marker: int, offset: int, length: int, found: Found) -> None:
    if marker == 0xE1 and not found.blocks and source.at(offset, 5) == EXIF_SIGNATURE:
        block = source.at(offset + 6, length - 6)
        if block[:2] in (b"II", b"MM"):
            found.blocks.append(Block(block))
    elif marker in _FRAME_HEADERS and found.width_px is None and length >= 5:
        head = source.at(offset, 5)
        height, width = int.from_bytes(head[1:3], "big"), int.from_bytes(head[3:5], "big")
        found.width_px, found.height_px = width or None, height or None
