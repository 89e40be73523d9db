"""Writes the TIFF block that holds a picture's EXIF, as cameras lay it out; nothing is read here.

Layout, tag numbers and types: EXIF 2.32 (CIPA DC-008) and TIFF 6.0, from memory; the tests read the result
back with two other libraries.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

BYTE, ASCII, SHORT, LONG, RATIONAL, UNDEFINED, SRATIONAL = 1, 2, 3, 4, 5, 7, 10
_PACK = {SHORT: "H", LONG: "I"}
EXIF_POINTER, GPS_POINTER, SUB_IFD_POINTER = 0x8769, 0x8825, 0x014A
THUMBNAIL_AT, THUMBNAIL_BYTES, STRIP_AT, STRIP_BYTES = 0x0201, 0x0202, 0x0111, 0x0117

Value = tuple[int, object]
Tags = Mapping[int, Value]


@dataclass(frozen=True)
class Directory:
    """One IFD: its tags, the directories its pointer tags lead to, and bytes that a tag points at."""

    tags: Tags
    below: Mapping[int, Directory | tuple[Directory, ...]] = field(default_factory=dict)
    blobs: Mapping[int, bytes] = field(default_factory=dict)


def text(words: str) -> Value:
    """ASCII with its closing NUL."""
    return ASCII, words


def short(*numbers: int) -> Value:
    """16-bit whole numbers."""
    return SHORT, numbers


def long(*numbers: int) -> Value:
    """32-bit whole numbers."""
    return LONG, numbers


def ratio(*pairs: tuple[int, int] | Fraction) -> Value:
    """Unsigned fractions, each as written: (10, 600) stays 10/600, (1, 0) stays 1/0."""
    return RATIONAL, tuple(_pair(p) for p in pairs)


def signed_ratio(*pairs: tuple[int, int] | Fraction) -> Value:
    """Signed fractions, as written."""
    return SRATIONAL, tuple(_pair(p) for p in pairs)


def raw_bytes(data: bytes, kind: int = UNDEFINED) -> Value:
    """Bytes of type UNDEFINED, or BYTE."""
    return kind, data


def _pair(value: tuple[int, int] | Fraction) -> tuple[int, int]:
    return value.as_integer_ratio() if isinstance(value, Fraction) else value


def _encode(value: Value) -> tuple[int, int, bytes]:
    """Type, count and bytes of one value, little-endian."""
    kind, content = value
    if isinstance(content, str):
        data = content.encode("ascii") + b"\0"
        return kind, len(data), data
    if isinstance(content, bytes):
        return kind, len(content), content
    assert isinstance(content, tuple)
    if kind in (RATIONAL, SRATIONAL):
        letter = "II" if kind == RATIONAL else "ii"
        return kind, len(content), b"".join(struct.pack("<" + letter, *pair) for pair in content)
    return kind, len(content), struct.pack(f"<{len(content)}{_PACK[kind]}", *content)


def tiff_block(chain: Sequence[Directory]) -> bytes:
    """A whole little-endian TIFF block: the chain IFD0, IFD1, ... with everything below each."""
    out = bytearray(b"II*\0\0\0\0\0")
    link_at = 4
    for directory in chain:
        struct.pack_into("<I", out, link_at, len(out))
        link_at = _append(out, directory)
    return bytes(out)


def _append(out: bytearray, directory: Directory) -> int:
    """Append one directory and what belongs to it; return where the link to the next one stands."""
    below = {tag: d if isinstance(d, tuple) else (d,) for tag, d in directory.below.items()}
    pointers = {tag: long(*(0 for _ in inner)) for tag, inner in below.items()}
    tags = {**directory.tags, **pointers, **{tag: long(0) for tag in directory.blobs}}
    start = len(out)
    out += struct.pack("<H", len(tags)) + bytes(12 * len(tags) + 4)
    for place, tag in enumerate(sorted(tags)):
        at = start + 2 + 12 * place
        kind, count, data = _encode(tags[tag])
        struct.pack_into("<HHI", out, at, tag, kind, count)
        if tag in directory.blobs:
            data = struct.pack("<I", _place(out, directory.blobs[tag]))
        elif tag in below:
            data = _append_all(out, below[tag])
        if len(data) > 4:
            data = struct.pack("<I", _place(out, data))
        out[at + 8 : at + 8 + len(data)] = data
    return start + 2 + 12 * len(tags)


def _append_all(out: bytearray, directories: Sequence[Directory]) -> bytes:
    """Append directories that one tag leads to; return the tag's value, their offsets."""
    starts = []
    for directory in directories:
        starts.append(len(out))
        _append(out, directory)
    return struct.pack(f"<{len(starts)}I", *starts)


def _place(out: bytearray, data: bytes) -> int:
    """Append bytes at an even offset, as TIFF asks for, and return the offset."""
    offset = len(out)
    out += data + bytes(len(data) % 2)
    return offset


def thumbnail_directory(jpeg: bytes) -> Directory:
    """IFD1: the embedded JPEG thumbnail, 72 dpi."""
    tags = {
        0x0103: short(6),
        0x011A: ratio((72, 1)),
        0x011B: ratio((72, 1)),
        0x0128: short(2),
        THUMBNAIL_BYTES: long(len(jpeg)),
    }
    return Directory(tags, blobs={THUMBNAIL_AT: jpeg})


def with_exif(jpeg: bytes, block: bytes) -> bytes:
    """A JPEG file (SOI and JFIF header as an encoder writes them) with the block as its only APP1."""
    if len(block) > 65_525:
        raise ValueError(f"EXIF block of {len(block)} bytes does not fit one APP1 segment")
    rest = jpeg[2:]
    if rest[:2] == b"\xff\xe0":  # cameras write no JFIF header
        rest = rest[2 + int.from_bytes(rest[2:4], "big") :]
    payload = b"Exif\0\0" + block
    return b"\xff\xd8\xff\xe1" + struct.pack(">H", len(payload) + 2) + payload + rest
