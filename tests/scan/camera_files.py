"""Writes small files as cameras do: TIFF blocks and the containers around them. All gear is invented."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any

Value = tuple[int, tuple[Any, ...]]  # TIFF type and values
Tags = dict[int, Value]

THUMBNAIL = b"\xff\xd8\xff\xdb" + bytes(40) + b"\xff\xd9"


def text(value: str | bytes) -> Value:
    return 2, ((value.encode() if isinstance(value, str) else value) + b"\0",)


def byte(*values: int) -> Value:
    return 1, values


def short(*values: int) -> Value:
    return 3, values


def whole(*values: int) -> Value:
    return 4, values


def ratio(*pairs: tuple[int, int]) -> Value:
    return 5, pairs


def signed(*pairs: tuple[int, int]) -> Value:
    return 10, pairs


def real(*values: float) -> Value:
    return 11, values


def raw(value: bytes) -> Value:
    return 7, (value,)


def _encode(value: Value, order: str) -> tuple[int, bytes]:
    kind, items = value
    if kind in (2, 7):
        return len(items[0]), items[0]
    if kind in (5, 10):
        letter = "I" if kind == 5 else "i"
        return len(items), b"".join(struct.pack(f"{order}2{letter}", *pair) for pair in items)
    return len(items), struct.pack(f"{order}{len(items)}{ {1: 'B', 3: 'H', 4: 'I', 11: 'f'}[kind] }", *items)


def _directory(tags: Tags, start: int, order: str, following: int = 0) -> bytes:
    """A TIFF directory placed at `start`, its longer values behind it."""
    table, data = b"", b""
    place = start + 2 + 12 * len(tags) + 4
    for tag, value in sorted(tags.items()):
        count, content = _encode(value, order)
        if len(content) > 4:
            content += bytes(len(content) % 2)
            field = struct.pack(order + "I", place + len(data))
            data += content
        else:
            field = content.ljust(4, b"\0")
        table += struct.pack(order + "HHI", tag, value[0], count) + field
    return struct.pack(order + "H", len(tags)) + table + struct.pack(order + "I", following) + data


def tiff(
    image: Tags,
    exif: Tags | None = None,
    gps: Tags | None = None,
    thumbnail: bytes | None = None,
    order: str = "<",
    magic: int = 42,
    sub: Tags | None = None,
) -> bytes:
    """A TIFF block with its Exif, GPS, thumbnail and sub-directories."""
    image = dict(image)
    children = [(0x8769, exif), (0x8825, gps), (0x14A, sub)]
    for pointer, tags in children:
        if tags is not None:
            image[pointer] = whole(0)
    place = 8 + len(_directory(image, 8, order))
    body = b""
    for pointer, tags in children:
        if tags is not None:
            image[pointer] = whole(place + len(body))
            body += _directory(tags, place + len(body), order)
    following = 0
    if thumbnail is not None:
        following = place + len(body)
        tags = {0x103: short(6), 0x201: whole(0), 0x202: whole(len(thumbnail))}
        tags[0x201] = whole(following + len(_directory(tags, 0, order)))
        body += _directory(tags, following, order) + thumbnail
    head = (b"II" if order == "<" else b"MM") + struct.pack(order + "HI", magic, 8)
    return head + _directory(image, 8, order, following) + body


def camera(
    model: str = "Brattholm Tarn",
    serial: str | None = "3001234",
    time: str | None = "2026:05:02 05:10:00",
    sub_second: str | None = None,
    offset: str | None = None,
    more: Tags | None = None,
    image: Tags | None = None,
    without: tuple[int, ...] = (),
) -> tuple[Tags, Tags]:
    """Directories of a usual frame: 1/125 s, f/11, ISO 100, 24 mm; `more` and `without` change it."""
    first = {0x10F: text("Brattholm"), 0x110: text(model), 0x112: short(1), **(image or {})}
    exif: Tags = {
        0x829A: ratio((1, 125)),
        0x829D: ratio((11, 1)),
        0x8827: short(100),
        0x920A: ratio((24, 1)),
        0xA434: text("Sund 16-35 mm f4"),
    }
    optional = {0xA431: serial, 0x9003: time, 0x9291: sub_second, 0x9011: offset}
    exif |= {tag: text(value) for tag, value in optional.items() if value is not None}
    exif |= more or {}
    return first, {tag: value for tag, value in exif.items() if tag not in without}


def block(order: str = "<", gps: Tags | None = None, thumbnail: bytes | None = None, **frame: Any) -> bytes:
    first, exif = camera(**frame)
    return tiff(first, exif, gps, thumbnail, order)


def segment(marker: int, content: bytes) -> bytes:
    return bytes([0xFF, marker]) + struct.pack(">H", len(content) + 2) + content


def jpeg(exif_block: bytes | None, size: tuple[int, int] = (600, 400), before: bytes = b"") -> bytes:
    """A JPEG header with its Exif block; the picture itself is empty."""
    app1 = segment(0xE1, b"Exif\0\0" + exif_block) if exif_block is not None else b""
    frame = segment(0xC0, struct.pack(">BHHB", 8, size[1], size[0], 1) + b"\1\x11\0")
    return b"\xff\xd8" + before + app1 + frame + segment(0xDA, bytes(6)) + b"\xff\xd9"


def box(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content) + 8) + kind + content


def cr3(image: bytes, exif: bytes, gps: bytes | None = None, thumbnail: bytes | None = None) -> bytes:
    parts = box(b"CMT1", image) + box(b"CMT2", exif) + box(b"CMT3", b"II*\0" + bytes(20))
    if gps is not None:
        parts += box(b"CMT4", gps)
    if thumbnail is not None:
        head = struct.pack(">IHHIHH", 0, 160, 120, len(thumbnail), 1, 0)
        parts += box(b"THMB", head + thumbnail)
    uuid = bytes.fromhex("85c0b687820f11e08111f4ce462b6a48")
    movie = box(b"moov", box(b"uuid", uuid + parts) + box(b"trak", bytes(12)))
    return box(b"ftyp", b"crx \0\0\0\1crx isom") + movie + box(b"mdat", bytes(64))


def raf(embedded: bytes) -> bytes:
    head = b"FUJIFILMCCD-RAW 0201FF000000Brattholm R".ljust(84, b"\0")
    return head + struct.pack(">II", 160, len(embedded)) + bytes(68) + embedded + bytes(200)


def rw2(embedded: bytes, borders: tuple[int, int, int, int]) -> bytes:
    top, left, bottom, right = borders
    tags = {4: short(top), 5: short(left), 6: short(bottom), 7: short(right), 0x10F: text("Brattholm")}
    tags[0x2E] = raw(embedded)
    return tiff(tags, magic=0x55)


def heif(
    exif_block: bytes, size: tuple[int, int] = (4000, 3000), offset: bool = True, version: int = 0
) -> bytes:
    """A HEIF file with its Exif item at the end: a 4-byte offset before the block, or the block at once."""
    item = struct.pack(">I", 6) + b"Exif\0\0" + exif_block if offset else exif_block
    info = box(b"infe", b"\2\0\0\0" + struct.pack(">HH", 1, 0) + b"hvc1\0")
    info += box(b"infe", b"\2\0\0\0" + struct.pack(">HH", 2, 0) + b"Exif\0")
    iinf = box(b"iinf", bytes(4) + struct.pack(">H", 2) + info)
    sizes = [(512, 512), size, (320, 240)]
    ispe = b"".join(box(b"ispe", struct.pack(">III", 0, *pair)) for pair in sizes)
    iprp = box(b"iprp", box(b"ipco", ispe))
    head = box(b"ftyp", b"heic\0\0\0\0mif1heic")

    def iloc(place: int) -> bytes:
        method = struct.pack(">H", 0) if version else b""
        rows = struct.pack(">H", 1) + method + struct.pack(">HHII", 0, 1, 0, 10)
        rows += struct.pack(">H", 2) + method + struct.pack(">HHII", 0, 1, place, len(item))
        return box(b"iloc", struct.pack(">B3xBBH", version, 0x44, 0, 2) + rows)

    meta_size = 8 + 4 + len(iinf) + len(iprp) + len(iloc(0))
    place = len(head) + meta_size + 8 + 100
    return head + box(b"meta", bytes(4) + iinf + iprp + iloc(place)) + box(b"mdat", bytes(100)) + item


def crw(model: str = "Brattholm C3", seconds: int = 1_100_000_000, exposed: bool = True) -> bytes:
    """A CIFF heap with camera, time, size and (in 1/32 stops) f/8, 1/64 s, ISO 100, 10 mm."""
    shot = [0] * 27
    if exposed:
        shot[2], shot[6], shot[21], shot[22] = 160, -16, 192, 192
    settings = [0] * 30
    settings[25] = 32
    records = [
        (0x080A, b"Brattholm\0" + model.encode() + b"\0"),
        (0x180E, struct.pack("<III", seconds, 0, 0)),
        (0x1810, struct.pack("<IIfi", 2272, 1704, 1.0, 90)),
        (0x300B, _heap([(0x102A, struct.pack("<27h", *shot)), (0x102D, struct.pack("<30H", *settings))])),
        (0x5029, struct.pack("<4H", 2, 320, 0, 0)),
    ]
    return b"II" + struct.pack("<I", 26) + b"HEAPCCDR" + bytes(12) + _heap(records)


def _heap(records: list[tuple[int, bytes]]) -> bytes:
    data, table = b"", struct.pack("<H", len(records))
    for tag, content in records:
        if tag & 0xC000 == 0x4000:
            table += struct.pack("<H", tag) + content
        else:
            table += struct.pack("<HII", tag, len(content), len(data))
            data += content
    return data + table + struct.pack("<I", len(data))


def put(root: Path, name: str, content: bytes = b"") -> Path:
    path = root / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return path
