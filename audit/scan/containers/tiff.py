"""TIFF and its family: the whole file is the block; the picture's size lies in one of its directories."""

from __future__ import annotations

import struct
from typing import Literal

from audit.scan.containers.found import Block, Found
from audit.scan.containers.source import Source

ENTRY_LIMIT = 512  # directory entries looked at
DIRECTORY_LIMIT = 16  # linked directories looked at, and sub-directories of each
_WIDTH, _HEIGHT, _SUB_DIRECTORIES = 0x100, 0x101, 0x14A
_JPEG_AT, _JPEG_BYTES, _STRIP_AT, _STRIP_BYTES = 0x201, 0x202, 0x111, 0x117
_COMPRESSION, _JPEG_CODED = 0x103, (6, 7)
_PHOTOMETRIC, _RGB, _YCBCR = 0x106, 2, 6
_ITEM = {1: ("B", 1), 3: ("H", 2), 4: ("I", 4), 13: ("I", 4)}  # BYTE, SHORT, LONG, IFD

Directory = dict[int, list[int]]


def find(source: Source, label: str) -> Found:
    """The file as one TIFF block, with the size of the largest picture in it and the JPEGs it embeds."""
    found = Found(label, [Block(None)])
    order = "<" if source.at(0, 2) == b"II" else ">"
    chain = _chain(source, order)
    below = [_below(source, directory, order) for directory in chain]
    found.width_px, found.height_px = _largest(chain[:1] + below[0])
    for directory in (*chain, *(inner for part in below for inner in part)):
        found.jpegs += embedded_jpeg(directory)
    return found


def _chain(source: Source, order: str) -> list[Directory]:
    """The first directory and those linked after it."""
    directories: list[Directory] = []
    seen: set[int] = set()
    at = 4
    while len(directories) < DIRECTORY_LIMIT:
        offset = int.from_bytes(source.at(at, 4), _name(order))
        if directories and (not offset or offset in seen):
            break
        seen.add(offset)
        directories.append(read_directory(source, offset, order))
        at = offset + 2 + 12 * int.from_bytes(source.at(offset, 2), _name(order))
    return directories


def _below(source: Source, directory: Directory, order: str) -> list[Directory]:
    offsets = directory.get(_SUB_DIRECTORIES, [])[:DIRECTORY_LIMIT]
    return [read_directory(source, offset, order) for offset in offsets]


def _largest(directories: list[Directory]) -> tuple[int | None, int | None]:
    """Width and height [px] of the largest picture in some directories."""
    width, height = max((_size(d) for d in directories), key=lambda size: size[0] * size[1])
    return (width, height) if width and height else (None, None)


def embedded_jpeg(directory: Directory) -> list[tuple[int, int]]:
    """Offset and length of the JPEG that a directory points at: by EXIF's tags, or as its only strip."""
    at, length = directory.get(_JPEG_AT), directory.get(_JPEG_BYTES)
    if at and length:
        return [(at[0], length[0])]
    strips, lengths = directory.get(_STRIP_AT, []), directory.get(_STRIP_BYTES, [])
    coded = directory.get(_COMPRESSION, [0])[0] in _JPEG_CODED
    shown = directory.get(_PHOTOMETRIC, [_RGB])[0] in (_RGB, _YCBCR)
    return [(strips[0], lengths[0])] if coded and shown and len(strips) == len(lengths) == 1 else []


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
