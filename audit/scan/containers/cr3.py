"""CR3: the EXIF tree is split over the boxes CMT1 (image), CMT2 (Exif) and CMT4 (GPS) of one uuid box."""

from __future__ import annotations

from audit.scan.containers.boxes import boxes, first
from audit.scan.containers.found import Block, Found, Part, as_thumbnail, is_tiff
from audit.scan.containers.source import Source

_METADATA = bytes.fromhex("85c0b687820f11e08111f4ce462b6a48")
_PARTS: dict[bytes, Part] = {b"CMT1": "whole", b"CMT2": "exif", b"CMT4": "gps"}
_THUMBNAIL_HEAD = 16  # version, width, height, length of the JPEG, two shorts


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
    return found


def _take(kind: bytes, data: bytes, found: Found) -> None:
    if kind in _PARTS and is_tiff(data):
        found.blocks.append(Block(data, _PARTS[kind]))
    elif kind == b"THMB":
        length = int.from_bytes(data[8:12], "big")
        found.thumbnail = as_thumbnail(data[_THUMBNAIL_HEAD : _THUMBNAIL_HEAD + length])
