"""Where a preview lies that a container embeds: a whole JPEG inside the file, told by its header alone."""

from __future__ import annotations

from collections.abc import Iterable

from audit.scan.containers.found import Preview
from audit.scan.containers.jpeg_header import frame_header
from audit.scan.containers.source import Source

THUMBNAIL_PX = 320
"""A picture no longer than this is a thumbnail, not a preview (EXIF's has 160 px, by DCF 2.0)."""
AMPLE_PX = 1000
"""Of several previews the smallest this long is taken: larger ones only take longer to decode."""
CANDIDATES = 32


def best_preview(source: Source, places: Iterable[tuple[int, int]]) -> Preview | None:
    """The preview to look at, of JPEGs that a container says lie at these offsets with these lengths.

    None where there is none, or none but thumbnails. What does not start like a JPEG photograph, or would
    go past the end of the file, does not count.
    """
    found = _previews(source, places)
    ample = [preview for preview in found if preview.longest_px >= AMPLE_PX]
    if ample:
        return min(ample, key=lambda preview: preview.longest_px)
    return max(found, key=lambda preview: preview.longest_px, default=None)


def largest_preview(source: Source, places: Iterable[tuple[int, int]]) -> Preview | None:
    """The largest of them, to cut from at full size; None as above."""
    return max(_previews(source, places), key=lambda preview: preview.longest_px, default=None)


def _previews(source: Source, places: Iterable[tuple[int, int]]) -> list[Preview]:
    tried = list(dict.fromkeys(places))[:CANDIDATES]
    return [preview for place in tried if (preview := _preview(source, *place)) is not None]


def _preview(source: Source, offset: int, length: int) -> Preview | None:
    """The JPEG at a place, unless it is a thumbnail or raw data that is coded as a lossless JPEG."""
    if length < 4 or offset <= 0 or offset + length > source.size or source.at(offset, 2) != b"\xff\xd8":
        return None
    header = frame_header(source, offset, offset + length)
    if header is None or not header.is_photograph:
        return None
    preview = Preview(offset, length, header.width_px, header.height_px)
    return preview if preview.longest_px > THUMBNAIL_PX else None
