"""HEIF: the Exif item may lie anywhere in the file; `iinf` names it and `iloc` says where.

Layout: ISO/IEC 14496-12 and 23008-12, quoted from memory and proved on real files.
"""

from __future__ import annotations

from audit.scan.containers.boxes import Box, boxes, first
from audit.scan.containers.found import Block, Found
from audit.scan.containers.source import Source

ITEM_LIMIT = 10_000
_AVIF_BRANDS = (b"avif", b"avis")
EXTENT_LIMIT = 64


class _Cursor:
    """Big-endian numbers read one after the other from bytes; zero past the end."""

    def __init__(self, data: bytes) -> None:
        self.data, self.place = data, 0

    def number(self, width: int) -> int:
        value = int.from_bytes(self.data[self.place : self.place + width], "big")
        self.place += width
        return value

    @property
    def done(self) -> bool:
        return self.place >= len(self.data)


def find(source: Source) -> Found:
    """The Exif item of a HEIF file and the size of its largest picture."""
    found = Found("AVIF" if source.at(8, 4) in _AVIF_BRANDS else "HEIF")
    meta = first(source, 0, source.size, b"meta")
    if meta is None:
        return found
    inner = {box.kind: box for box in boxes(source, meta.start + 4, meta.end)}
    found.width_px, found.height_px = _largest_picture(source, inner.get(b"iprp"))
    item = _exif_item(source, inner.get(b"iinf"))
    if item is not None and b"iloc" in inner:
        base = inner[b"idat"].start if b"idat" in inner else 0
        data = b"".join(source.at(*extent) for extent in _extents(source, inner[b"iloc"], item, base))
        block = _tiff_block(data)
        found.blocks = [Block(block)] if block else []
    return found


def _exif_item(source: Source, info: Box | None) -> int | None:
    if info is None:
        return None
    version = source.at(info.start, 1)
    start = info.start + (6 if version == b"\0" else 8)
    for box in boxes(source, start, info.end):
        cursor = _Cursor(source.at(box.start, 16))
        item_version = cursor.number(4) >> 24
        item = cursor.number(4 if item_version == 3 else 2)
        cursor.number(2)
        if (
            box.kind == b"infe"
            and item_version >= 2
            and cursor.data[cursor.place : cursor.place + 4] == b"Exif"
        ):
            return item
    return None


def _extents(source: Source, location: Box, wanted: int, idat: int) -> list[tuple[int, int]]:
    """Offset and length of each piece of an item; none where the item is stored in another file."""
    cursor = _Cursor(source.at(location.start, location.end - location.start))
    version = cursor.number(4) >> 24
    widths = cursor.number(2)
    offset_w, length_w, base_w, index_w = (widths >> shift & 15 for shift in (12, 8, 4, 0))
    for _ in range(min(cursor.number(2 if version < 2 else 4), ITEM_LIMIT)):
        if cursor.done:
            break
        item = cursor.number(2 if version < 2 else 4)
        method = cursor.number(2) & 15 if version else 0
        cursor.number(2)
        base = cursor.number(base_w) + (idat if method == 1 else 0)
        pieces = []
        count = min(cursor.number(2), EXTENT_LIMIT)
        for _ in range(count):
            cursor.number(index_w if version else 0)
            pieces.append((base + cursor.number(offset_w), cursor.number(length_w)))
        if item == wanted:
            return pieces if method in (0, 1) else []
    return []


def _tiff_block(item: bytes) -> bytes | None:
    """The TIFF block of an Exif item: at once, or after a 4-byte offset (both are seen in real files)."""
    if item[:2] in (b"II", b"MM"):
        return item
    block = item[4 + int.from_bytes(item[:4], "big") :]
    return block if block[:2] in (b"II", b"MM") else None


def _largest_picture(source: Source, properties: Box | None) -> tuple[int | None, int | None]:
    container = first(source, properties.start, properties.end, b"ipco") if properties else None
    if container is None:
        return None, None
    sizes = [(0, 0)]
    for box in boxes(source, container.start, container.end):
        if box.kind == b"ispe":
            cursor = _Cursor(source.at(box.start + 4, 8))
            sizes.append((cursor.number(4), cursor.number(4)))
    width, height = max(sizes, key=lambda size: size[0] * size[1])
    return (width, height) if width and height else (None, None)
