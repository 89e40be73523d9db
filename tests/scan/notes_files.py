"""Writes makers' notes as their cameras lay them out, into TIFF blocks of `camera_files`."""

from __future__ import annotations

import struct
from typing import Any

import camera_files
from camera_files import Tags, _directory, camera, raw, text, tiff

MAKER_NOTE = 0x927C


def noted(make: str, note: bytes, without: tuple[int, ...] = (), **more: Any) -> bytes:
    """The block of a usual frame of a maker, with a note, and without some standard tags."""
    first, exif = camera(image={0x10F: text(make)}, more={MAKER_NOTE: raw(note)}, without=without, **more)
    return tiff({**first, 0x10F: text(make)}, exif)


def with_own_header(tags: Tags, order: str = ">") -> bytes:
    """A note that is a TIFF of its own behind a label; places count from its header."""
    return b"Nikon\0\2\x10\0\0" + tiff(tags, order=order)


def from_its_start(tags: Tags) -> bytes:
    """A little-endian note with its directory at 12; places count from its start."""
    return b"FUJIFILM" + struct.pack("<I", 12) + _directory(tags, 12, "<")


def from_the_block(make: str, tags: Tags, label: bytes = b"", **frame: Any) -> bytes:
    """A block whose note is a bare directory behind a label; places count from the block's start."""
    blank = label + bytes(len(_directory(tags, 0, "<")) - 1) + b"\x7f"
    place = noted(make, blank, **frame).index(blank) + len(label)
    return noted(make, label + _directory(tags, place, "<"), **frame)


def jpeg_of(block: bytes) -> bytes:
    """A JPEG with that block."""
    return camera_files.jpeg(block)
