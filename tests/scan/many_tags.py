"""Blocks of some sixty tags as several makers lay them out, each with a note of its own layout.

Names of makers are those by which exifread tells their notes apart; all gear is invented.
"""

from __future__ import annotations

import struct
from math import log2

from camera_files import (
    THUMBNAIL,
    Tags,
    _directory,
    byte,
    ratio,
    raw,
    segment,
    short,
    signed,
    text,
    tiff,
    whole,
)
from notes_files import from_its_start, with_own_header

MAKER_NOTE, ISO, SERIAL, LENS = 0x927C, 0x8827, 0xA431, 0xA434
LAYOUTS = ("NIKON CORPORATION", "Canon", "FUJIFILM", "OLYMPUS CORPORATION", "Brattholm")
EXPOSURES = ((15, 28), (30, 40), (60, 56), (125, 80), (250, 110), (500, 160))
"""Parts of a second, and tenths of the f-number."""
FRAME = segment(0xC0, struct.pack(">BHHB", 8, 400, 600, 3) + b"\1\x11\0\2\x11\0\3\x11\0")
PADDING = {tag: short(tag, 7) for tag in range(0x00E0, 0x0100)}  # of a note: tags that nobody asks for


def full(make: str, order: str, number: int, without: tuple[int, ...] = ()) -> bytes:
    """The block of one of many frames: image, Exif and GPS directory, a note and a thumbnail."""
    blank = b"\x7e" * len(_note(make, order, 0))
    place = _block(make, order, number, blank, without).index(blank)
    return _block(make, order, number, _note(make, order, place), without)


def many(count: int, lacking: bool = False) -> list[bytes]:
    """JPEGs of every layout in both byte orders, one after another; some tags stand in the notes alone."""
    kinds = [(make, order) for make in LAYOUTS for order in "<>"]
    without = (ISO, SERIAL, LENS) if lacking else ()
    return [as_jpeg(full(*kinds[n % len(kinds)], n, without)) for n in range(count)]


def as_jpeg(block: bytes) -> bytes:
    """A JPEG with the segments that cameras write, and some bytes of a picture."""
    exif = segment(0xE1, b"Exif\0\0" + block)
    tables = segment(0xDB, bytes(65) + b"\1" + bytes(64)) + segment(0xC4, bytes(410))
    return b"\xff\xd8" + exif + tables + FRAME + segment(0xDA, bytes(10)) + bytes(3000) + b"\xff\xd9"


def _block(make: str, order: str, number: int, note: bytes, without: tuple[int, ...]) -> bytes:
    first, exif, gps = image(make), frame(number), position(number)
    exif[MAKER_NOTE] = raw(note)
    return tiff(first, {k: v for k, v in exif.items() if k not in without}, gps, THUMBNAIL, order)


def image(make: str) -> Tags:
    """Eleven tags of the first directory."""
    return {
        0x10E: text(" " * 31),
        0x10F: text(make),
        0x110: text(f"{make.split()[0].title()} Tarn 4"),
        0x112: short(1),
        0x11A: ratio((300, 1)),
        0x11B: ratio((300, 1)),
        0x128: short(2),
        0x131: text("Ver.2.10"),
        0x132: text("2026:05:02 05:10:00"),
        0x213: short(2),
        0x8298: text(""),
    }


def frame(number: int) -> Tags:
    """Thirty-eight tags of the Exif directory, those of the exposure different from frame to frame."""
    time = f"2026:05:{2 + number % 20:02} {5 + number % 12:02}:{number % 60:02}:{number // 60 % 60:02}"
    stops, part_s, tenths = number % 30, *EXPOSURES[number % len(EXPOSURES)]
    return {
        0x829A: ratio((1, part_s)),
        0x829D: ratio((tenths, 10)),
        0x8822: short(number % 5),
        ISO: short(100 * (1 + number % 4)),
        0x8830: short(2),
        0x8832: whole(100 * (1 + number % 4)),
        0x9000: raw(b"0231"),
        0x9003: text(time),
        0x9004: text(time),
        0x9010: text("+02:00"),
        0x9011: text("+02:00"),
        0x9012: text("+02:00"),
        0x9101: raw(b"\1\2\3\0"),
        0x9102: ratio((2, 1)),
        0x9201: signed((round(log2(part_s) * 1_000_000), 1_000_000)),
        0x9202: ratio((round(2 * log2(tenths / 10) * 1_000_000), 1_000_000)),
        0x9204: signed((stops - 15, 6)),
        0x9205: ratio((4, 1)),
        0x9207: short(5),
        0x9208: short(0),
        0x9209: short(16),
        0x920A: ratio((160 + number % 190, 10)),
        0x9286: raw(b"ASCII\0\0\0" + b" " * 36),
        0x9290: text(f"{number % 100:02}"),
        0x9291: text(f"{number % 100:02}"),
        0x9292: text(f"{number % 100:02}"),
        0xA000: raw(b"0100"),
        0xA001: short(1),
        0xA002: whole(600),
        0xA003: whole(400),
        0xA20E: ratio((600_000, 1417)),
        0xA20F: ratio((600_000, 1417)),
        0xA210: short(2),
        0xA217: short(2),
        0xA300: raw(b"\3"),
        0xA301: raw(b"\1"),
        0xA402: short(0),
        0xA403: short(0),
        0xA405: short(24),
        0xA406: short(0),
        SERIAL: text("3001234"),
        0xA432: ratio((16, 1), (35, 1), (4, 1), (4, 1)),
        LENS: text("Sund 16-35 mm f4"),
        0xA435: text("0000a2c4"),
    }


def position(number: int) -> Tags:
    """Eight tags of the GPS directory."""
    return {
        0x00: byte(2, 3, 0, 0),
        0x01: text("N"),
        0x02: ratio((61, 1), (30, 1), (100 + number, 100)),
        0x03: text("E"),
        0x04: ratio((7, 1), (15, 1), (number, 100)),
        0x07: ratio((3, 1), (number % 60, 1), (0, 1)),
        0x12: text("WGS-84"),
        0x1D: text("2026:05:02"),
    }


def _note(make: str, order: str, place: int) -> bytes:
    """A note that lies at `place` of its block and tells ISO, lens or serial number."""
    if make.startswith("NIKON"):
        lens = ratio((16, 1), (35, 1), (4, 1), (4, 1))
        return with_own_header({0x02: short(0, 400), 0x1D: text("2004711"), 0x84: lens, **PADDING}, order)
    if make == "Canon":
        shot = short(*(8, 0, 160), *([0] * 24))
        tags = {0x04: shot, 0x0C: whole(12345), 0x95: text("EF 16-35mm"), **PADDING}
        return _directory(tags, place, order)
    if make == "FUJIFILM":
        return from_its_start({0x10: text("FC A1234 0711"), **PADDING})
    if make.startswith("OLYMPUS"):
        return b"OLYMP\0\1\0" + _directory({0x404: text("108479926"), **PADDING}, place + 8, order)
    return bytes(500)
