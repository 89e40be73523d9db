"""The segments of a JPEG before its picture data, and what its frame header says of the picture."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

from audit.message.text import marked
from audit.scan.containers.source import Source

FRAME_HEADERS = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_NO_LENGTH = {0x01, *range(0xD0, 0xD9)}  # markers without a length: TEM, RST0 to RST7, SOI
_DECODED = {0xC0, 0xC1, 0xC2}  # baseline, extended, progressive; the others are lossless or arithmetic
_QUANTISATION = 0xDB  # absent where TIFF keeps the tables elsewhere
_END = {0xD9, 0xDA}  # end of image, start of scan: what follows is picture data
SEGMENT_LIMIT = 4096
CUT_SHORT = marked("the JPEG header ends before the picture starts: the file is cut short or damaged")
NO_LENGTH = marked("the JPEG header is damaged: a segment has no length")


class Segment(NamedTuple):
    """A marker with where its content lies; `fault` says why there is no further one."""

    marker: int
    offset: int
    length: int
    fault: str = ""


@dataclass(frozen=True)
class FrameHeader:
    """What the frame header of a JPEG says of its picture."""

    marker: int
    precision_bits: int
    width_px: int
    height_px: int
    channels: int
    has_tables: bool = False

    @property
    def is_photograph(self) -> bool:
        """Whether it is a colour picture that decodes by itself, and no raw data."""
        known = self.marker in _DECODED and self.precision_bits == 8 and self.channels == 3
        return known and self.has_tables and self.width_px > 0 and self.height_px > 0


def segments(source: Source, start: int, end: int) -> Iterator[Segment]:
    """The segments before the picture data of a JPEG, each cut at `end`."""
    offset, end = start + 2, min(end, source.size)
    for _ in range(SEGMENT_LIMIT):
        marker, offset = _next_marker(source, offset, end)
        if marker is None:
            yield Segment(0, offset, 0, CUT_SHORT)
            return
        if marker in _END:
            return
        if marker in _NO_LENGTH:
            continue
        length = int.from_bytes(source.at(offset, 2), "big")
        if length < 2 or offset + 2 > end:
            yield Segment(marker, offset, 0, NO_LENGTH)
            return
        yield Segment(marker, offset + 2, min(length - 2, end - offset - 2))
        offset += length


def frame_header(source: Source, start: int, end: int) -> FrameHeader | None:
    """The first frame header of the JPEG between two offsets, if its header ends as it should."""
    header, has_tables = None, False
    for segment in segments(source, start, end):
        if segment.fault:
            return None
        has_tables |= segment.marker == _QUANTISATION
        if header is None and segment.marker in FRAME_HEADERS:
            header = read_frame_header(source, segment)
    return replace(header, has_tables=has_tables) if header else None


def read_frame_header(source: Source, segment: Segment) -> FrameHeader | None:
    """What the segment of a frame header says; None where it is cut short."""
    head = source.at(segment.offset, min(segment.length, 6))
    if len(head) < 6:
        return None
    height, width = int.from_bytes(head[1:3], "big"), int.from_bytes(head[3:5], "big")
    return FrameHeader(segment.marker, head[0], width, height, head[5])


def _next_marker(source: Source, offset: int, end: int) -> tuple[int | None, int]:
    """Marker code at the offset (fill bytes skipped) and the offset after it; None where there is none."""
    if offset + 2 > end or source.at(offset, 1) != b"\xff":
        return None, offset
    run = source.at(offset + 1, min(64, end - offset - 1))
    code = run.lstrip(b"\xff")
    if not code:
        return None, offset
    return code[0], offset + 2 + len(run) - len(code)
