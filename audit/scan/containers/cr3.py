"""CR3: the EXIF tree is split over the boxes CMT1 (image), CMT2 (Exif) and CMT4 (GPS) of one uuid box.

The boxes with thumbnail and preview are laid out as found in real files.
"""

from __future__ import annotations

from audit.scan.containers.boxes import Box, boxes, first
from audit.scan.containers.found import Block, Found, Part, as_thumbnail, is_tiff
from audit.scan.containers.source import Source

_METADATA = bytes.fromhex("85c0b687820f11e08111f4ce462b6a48")
_PREVIEW = bytes.fromhex("eaf42b5e1c984b88b9fbb7dc406e4d16")
_PREVIEW_SKIP = 24  # the uuid and eight bytes more
_PARTS: dict[bytes, Part] = {b"CMT1": "whole", b"CMT2": "exif", b"CMT4": "gps"}
_THUMBNAIL_HEAD = 16  # as many bytes before the JPEG of a thumbnail as of a preview


def find(source: Source) -> Found:
    """The three TIFF blocks of a CR3 file and its thumbnail."""
    found = Found("CR3")
    movie = first(source, 0, source.size, b"moov")
    if movie is None:
        return found
    for outer in boxes(source, movie.start, movie.end):
        if outer.kind == b"uuid" and source.at(outer.start, 16) == _METADATA:
            for box in boxes(source, outer.start + 16, outer.end):
                _take(box.kind, source.at(box.start, box.end - box.start), found)
            break
    found.jpegs = _preview(source) or _tracks(source, movie)
    return found


def _preview(source: Source) -> list[tuple[int, int]]:
    """Place of the JPEG in the preview box, which lies in a box of its own beside the movie."""
    for outer in boxes(source, 0, source.size):
        if outer.kind == b"uuid" and source.at(outer.start, 16) == _PREVIEW:
            box = first(source, outer.start + _PREVIEW_SKIP, outer.end, b"PRVW")
            if box is not None:
                length = int.from_bytes(source.at(box.start + 12, 4), "big")
                return [(box.start + _THUMBNAIL_HEAD, min(length, box.end - box.start - _THUMBNAIL_HEAD))]
    return []


def _tracks(source: Source, movie: Box) -> list[tuple[int, int]]:
    """Place of the first sample of each track; one of them is a JPEG."""
    places = []
    for track in boxes(source, movie.start, movie.end):
        table = _descend(source, track, b"mdia", b"minf", b"stbl") if track.kind == b"trak" else None
        sizes = first(source, table.start, table.end, b"stsz") if table else None
        offsets = first(source, table.start, table.end, b"co64") if table else None
        if sizes is not None and offsets is not None:
            head = source.at(sizes.start + 4, 12)  # one size for all samples or 0, count, the sizes
            length = int.from_bytes(head[:4], "big") or int.from_bytes(head[8:12], "big")
            places.append((int.from_bytes(source.at(offsets.start + 8, 8), "big"), length))
    return places


def _descend(source: Source, box: Box, *kinds: bytes) -> Box | None:
    for kind in kinds:
        inner = first(source, box.start, box.end, kind)
        if inner is None:
            return None
        box = inner
    return box


def _take(kind: bytes, data: bytes, found: Found) -> None:
    if kind in _PARTS and is_tiff(data):
        found.blocks.append(Block(data, _PARTS[kind]))
    elif kind == b"THMB":
        length = int.from_bytes(data[8:12], "big")
        found.thumbnail = as_thumbnail(data[_THUMBNAIL_HEAD : _THUMBNAIL_HEAD + length])
