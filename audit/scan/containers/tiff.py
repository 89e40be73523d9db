"""TIFF and its family: the whole file is the block; the picture's size lies in one of its directories."""

from __future__ import annotations

import struct
from typing import Literal

from audit.scan.containers.found import Block, Found
from audit.scan.containers.source import Source

ENTRY_LIMIT = 512  # directory entries looked at for the size
DIRECTORY_LIMIT = 16  # sub-directories looked at for the size
_WIDTH, _HEIGHT, _SUB_DIRECTORIES = 0x100, 0x101, 0x14A
_ITEM = {1: ("B", 1), 3: ("H", 2), 4: ("I", 4), 13: ("I", 4)}  # BYTE, SHORT, LONG, IFD

Directory = dict[int, list[int]]


def find(source: Source, label: str) -> Found:
    """The file as one TIFF block, with the size of the largest picture in it."""
    found = Found(label, [Block(None)])
    found.width_px, found.height_px = largest_picture(source)
    return found


def largest_picture(source: Source) -> tuple[int | None, int | None]:
    """Width and height [px] of the largest picture in the first directory and its sub-directories."""
    order = "<" if source.at(0, 2) == b"II" else ">"
    first = read_directory(source, int.from_bytes(source.at(4, 4), _name(order)), order)
    sizes = [_size(first)]
    for offset in first.get(_SUB_DIRECTORIES, [])[:DIRECTORY_LIMIT]:
        sizes.append(_size(read_directory(source, offset, order)))
    width, height = max(sizes, key=lambda size: size[0] * size[1])
    return (width, height) if width and height else (None, None)


def read_directory(source: Source, offset: int, order: str) -> Directory:
    """Whole-number values of one TIFF directory by tag, without what lies outside the file."""
    count = min(int.from_bytes(source.at(offset, 2), _name(order)), ENTRY_LIMIT)
    table = source.at(offset + 2, 12 * count)
    values: Directory = {}
    for start in range(0, len(table) - 11, 12):
        tag, kind, number, place = struct.unpack_from(order + "HHII", table, start)
        letter, width = _ITEM.get(kind, ("", 0))
        if not width or not 0 < number <= DIRECTORY_LIMIT:
            continue
        size = number * width
        data = table[start + 8 : start + 8 + size] if size <= 4 else source.at(place, size)
        if len(data) == size:
            values[tag] = list(struct.unpack(f"{order}{number}{letter}", data))
    return values


def _size(directory: Directory) -> tuple[int, int]:
    return directory.get(_WIDTH, [0])[0], directory.get(_HEIGHT, [0])[0]


def _name(order: str) -> Literal["little", "big"]:
    return "little" if order == "<" else "big"
