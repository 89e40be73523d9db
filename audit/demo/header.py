"""The EXIF a simulated camera writes for a frame, mistakes of the plan included."""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from fractions import Fraction

from audit.demo.exif_block import (
    BYTE,
    EXIF_POINTER,
    STRIP_AT,
    STRIP_BYTES,
    SUB_IFD_POINTER,
    Directory,
    Value,
    long,
    ratio,
    raw_bytes,
    short,
    signed_ratio,
    text,
    thumbnail_directory,
    tiff_block,
)
from audit.demo.gear import LENSES
from audit.demo.schedule import Frame, exact_f_number

_SIGNATURE = b"MPF\0"
_PICTURE = 1 << 31 | 1 << 29 | 0x030000
"""Attribute of the first picture: has a dependent one, stands for the file, is the primary one."""
_PREVIEW = 1 << 30 | 0x010001
"""Attribute of the second: depends on the first, is a large thumbnail of VGA class."""


def with_preview(picture: bytes, preview: bytes) -> bytes:
    """A JPEG file whose first segment is the EXIF's, with a second JPEG behind it as large thumbnail."""
    if picture[2:4] != b"\xff\xe1":
        raise ValueError("the picture does not start with an EXIF segment")
    split = 4 + int.from_bytes(picture[4:6], "big")
    size = len(picture) + len(_segment(0, 0, 0))
    header_at = split + 4 + len(_SIGNATURE)  # offsets of the segment count from its own TIFF header
    segment = _segment(size, size - header_at, len(preview))
    return picture[:split] + segment + picture[split:] + preview


def _segment(picture_bytes: int, preview_offset: int, preview_bytes: int) -> bytes:
    entries = struct.pack("<3I2H", _PICTURE, picture_bytes, 0, 2, 0)
    entries += struct.pack("<3I2H", _PREVIEW, preview_bytes, preview_offset, 0, 0)
    index = Directory({0xB000: raw_bytes(b"0100"), 0xB001: long(2), 0xB002: raw_bytes(entries)})
    payload = _SIGNATURE + tiff_block([index])
    return b"\xff\xe2" + struct.pack(">H", len(payload) + 2) + payload


_THUMB_ROWS, _THUMB_COLUMNS = 32, 48


def jpeg_header(frame: Frame, width_px: int, height_px: int, thumbnail: bytes) -> bytes:
    """TIFF block for a JPEG: IFD0, Exif, IFD1 with the thumbnail."""
    exif = exif_tags(frame) | picture_tags(frame, width_px, height_px)
    first = Directory(main_tags(frame), below={EXIF_POINTER: Directory(exif)})
    return tiff_block([first, thumbnail_directory(thumbnail)])


@dataclass(frozen=True)
class Stored:
    """A picture inside a raw file: its bytes and its size."""

    data: bytes
    columns: int
    rows: int


def raw_file(frame: Frame, thumbnail: bytes, small_rgb: bytes, mosaic: Stored, preview: Stored) -> bytes:
    """A small DNG: 48 x 32 RGB in IFD0, a 16-bit mosaic and a JPEG below it, the thumbnail in IFD1."""
    tags = main_tags(frame) | _strip(_THUMB_COLUMNS, _THUMB_ROWS, 1, (8, 8, 8), 2, len(small_rgb))
    tags[0xC612] = raw_bytes(bytes((1, 4, 0, 0)), BYTE)
    tags[0xC614] = text(frame.body.model)
    mosaic_tags = _strip(mosaic.columns, mosaic.rows, 0, (16,), 32803, len(mosaic.data))
    mosaic_tags |= {0x828D: short(2, 2), 0x828E: raw_bytes(bytes((0, 1, 1, 2)), BYTE)}
    preview_tags = _strip(preview.columns, preview.rows, 1, (8, 8, 8), 6, len(preview.data))
    preview_tags |= {0x0103: short(7), 0x0212: short(2, 2)}
    below: dict[int, Directory | tuple[Directory, ...]] = {
        EXIF_POINTER: Directory(exif_tags(frame)),
        SUB_IFD_POINTER: (
            Directory(mosaic_tags, blobs={STRIP_AT: mosaic.data}),
            Directory(preview_tags, blobs={STRIP_AT: preview.data}),
        ),
    }
    return tiff_block([Directory(tags, below, {STRIP_AT: small_rgb}), thumbnail_directory(thumbnail)])


def _strip(
    columns: int, rows: int, subfile: int, bits: tuple[int, ...], photometric: int, count: int
) -> dict[int, Value]:
    """Tags of an uncompressed picture in one strip."""
    return {
        0x00FE: long(subfile),
        0x0100: long(columns),
        0x0101: long(rows),
        0x0102: short(*bits),
        0x0103: short(1),
        0x0106: short(photometric),
        0x0115: short(len(bits)),
        0x0116: long(rows),
        STRIP_BYTES: long(count),
        0x011C: short(1),
    }


def main_tags(frame: Frame) -> dict[int, Value]:
    """IFD0: who made it, which way up, when."""
    tags = {
        0x010F: text("Brattholm"),
        0x0110: text(frame.body.model),
        0x0112: short(8 if frame.scene.upright else 1),
        0x011A: ratio((300, 1)),
        0x011B: ratio((300, 1)),
        0x0128: short(2),
        0x0131: text(f"{frame.body.model} firmware 1.10"),
        0x0213: short(2),
    }
    return tags | ({0x0132: text(_date(frame))} if _date(frame) else {})


def exif_tags(frame: Frame) -> dict[int, Value]:
    """The Exif directory without what only JPEGs have."""
    return (
        _exposure_tags(frame)
        | _time_tags(frame)
        | _lens_tags(frame)
        | {
            0x9000: raw_bytes(b"0232"),
            0xA431: text(frame.body.serial),
        }
    )


def _date(frame: Frame) -> str:
    if frame.take.odd == "no-time":
        return ""
    return (
        "0000:00:00 00:00:00" if frame.take.odd == "zero-time" else f"{frame.camera_time:%Y:%m:%d %H:%M:%S}"
    )


def _time_tags(frame: Frame) -> dict[int, Value]:
    date = _date(frame)
    if not date:
        return {}
    sub_second = text(f"{frame.sub_second:02d}")
    tags = {0x9003: text(date), 0x9004: text(date), 0x9291: sub_second, 0x9292: sub_second}
    return tags | {
        0x9010: text(frame.utc_offset),
        0x9011: text(frame.utc_offset),
        0x9012: text(frame.utc_offset),
    }


def _exposure_tags(frame: Frame) -> dict[int, Value]:
    """Nominal values as cameras write them, APEX from the exact ones; bias in thirds."""
    one, by_hand = frame.take, frame.take.shutter_s is not None
    time = (1, 0) if one.odd == "time-infinite" else _time_pair(frame.nominal_s)
    thirds = round(one.bias_stops * 3)
    tags = {
        0x829A: ratio(time),
        0x8822: short(1 if by_hand else 3),
        0x8827: short(frame.iso),
        0x8830: short(2),
        0x8832: long(frame.iso),
        0x9204: signed_ratio((thirds, 3)),
        0x9207: short(5),
        0x9208: short(0),
        0x9209: short(25 if one.odd == "flash" else 16),
        0xA402: short(2 if one.bracket else 1 if by_hand else 0),
        0xA403: short(1),
        0xA406: short(1),
    }
    if one.odd == "composite":
        tags[0xA460] = short(3)
    if one.odd != "time-infinite":
        tags[0x9201] = signed_ratio((round(-math.log2(frame.exact_s) * 1000), 1000))
    return tags


def _time_pair(nominal_s: Fraction) -> tuple[int, int]:
    """1/60, 15/1, and 13/10 for times between."""
    top, bottom = nominal_s.as_integer_ratio()
    return (top, bottom) if top == 1 or bottom == 1 else (round(nominal_s * 10), 10)


def _lens_tags(frame: Frame) -> dict[int, Value]:
    """Lens, focal length and aperture; a lens without contacts leaves zeros."""
    lens, scene = LENSES[frame.scene.lens], frame.scene
    if not lens.exif:
        return {0x829D: ratio((0, 1)), 0x920A: ratio((0, 1)), 0xA405: short(0)}
    f_number = (0, 1) if frame.take.odd == "f-zero" else (round(frame.f_number * 10), 10)
    low, high = (round(f) for f in lens.focal_mm)
    widest = (round(lens.widest_f * 10), 10)
    tags = {
        0x829D: ratio(f_number),
        0x920A: ratio((round(scene.focal_mm * 10), 10)),
        0xA405: short(round(scene.focal_mm * frame.body.crop)),
        0x9205: ratio((round(2000 * math.log2(lens.widest_f)), 1000)),
        0xA432: ratio((low, 1), (high, 1), widest, widest),
        0xA433: text("Brattholm"),
        0xA434: text(lens.exif),
        0xA435: text(lens.serial),
    }
    if frame.take.odd != "f-zero":
        tags[0x9202] = ratio((round(2000 * math.log2(exact_f_number(frame.f_number))), 1000))
    return tags


def picture_tags(frame: Frame, width_px: int, height_px: int) -> dict[int, Value]:
    """What only a finished picture has: colour space, pixels, pixels per centimetre of the sensor."""
    body = frame.body
    return {
        0xA000: raw_bytes(b"0100"),
        0x9101: raw_bytes(bytes((1, 2, 3, 0))),
        0xA001: short(1),
        0xA002: long(width_px),
        0xA003: long(height_px),
        0xA20E: ratio((round(width_px * 100_000 / body.width_mm), 10_000)),
        0xA20F: ratio((round(height_px * 100_000 / body.height_mm), 10_000)),
        0xA210: short(3),
        0xA217: short(2),
        0xA300: raw_bytes(b"\3"),
        0xA401: short(0),
    }
