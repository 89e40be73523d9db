"""CRW: a heap of records (CIFF) that holds no EXIF; the few records we need are turned into EXIF names.

Record numbers and units are quoted from memory of the CIFF 1.0 description and were proved on real files.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from datetime import UTC, datetime
from fractions import Fraction

from audit.message.text import marked
from audit.scan.containers.found import Found, as_thumbnail
from audit.scan.containers.source import Source

RECORD_LIMIT = 512
DEPTH_LIMIT = 6
_MAKE_MODEL, _TIME, _PICTURE = 0x080A, 0x180E, 0x1810
_FOCAL, _SHOT, _SETTINGS, _PREVIEW, _THUMBNAIL = 0x1029, 0x102A, 0x102D, 0x2007, 0x2008
_WANTED = {_MAKE_MODEL, _TIME, _PICTURE, _FOCAL, _SHOT, _SETTINGS, _PREVIEW, _THUMBNAIL}
_FOCAL_UNITS = 25  # place in the settings record: units per mm
_SHOT_PLACES = (1, 2, 6, 21, 22)  # places in the shot record: auto ISO, base ISO, bias, aperture, time
_ORIENTATION = {0: 1, 90: 6, 180: 3, 270: 8}

Records = dict[int, bytes]


def find(source: Source) -> Found:
    """What the heap says about the picture, under EXIF names."""
    found = Found("CRW")
    head = source.at(0, 6)
    order = "<" if head[:2] == b"II" else ">"
    start = struct.unpack(order + "I", head[2:])[0]
    places = dict(_records(source, order, start, source.size, DEPTH_LIMIT))
    records = {kind: source.at(*place) for kind, place in places.items() if kind != _PREVIEW}
    found.tags = {**_camera(records, order), **_exposure(records, order)}
    found.width_px, found.height_px, rotation = _picture(records, order)
    if rotation in _ORIENTATION:
        found.tags["Image Orientation"] = [_ORIENTATION[rotation]]
    found.jpegs += [places[_PREVIEW]] if _PREVIEW in places else []
    found.thumbnail = as_thumbnail(records.get(_THUMBNAIL, b""))
    if not found.tags:
        found.problem = marked("the CRW file's records could not be found, and no THM file lies beside it")
    return found


def _records(
    source: Source, order: str, start: int, end: int, depth: int
) -> Iterator[tuple[int, tuple[int, int]]]:
    """Wanted records of a heap and of the heaps inside it: kind, and offset and length in the file."""
    tail = source.at(end - 4, 4)
    if depth == 0 or len(tail) < 4 or end <= start:
        return
    table = start + struct.unpack(order + "I", tail)[0]
    count = struct.unpack(order + "H", source.at(table, 2).ljust(2, b"\0"))[0]
    entries = source.at(table + 2, 10 * min(count, RECORD_LIMIT))
    for place in range(0, len(entries) - 9, 10):
        tag, size, offset = struct.unpack_from(order + "HII", entries, place)
        kind = tag & 0x3FFF
        if tag & 0xC000 == 0x4000:  # small enough to stand in the directory itself
            if kind in _WANTED:
                yield kind, (table + 2 + place + 2, 8)
        elif tag & 0x3800 in (0x2800, 0x3000) and start + offset + size <= end:
            yield from _records(source, order, start + offset, start + offset + size, depth - 1)
        elif kind in _WANTED:
            yield kind, (start + offset, min(size, end - start - offset))


def _camera(records: Records, order: str) -> dict[str, object]:
    tags: dict[str, object] = {}
    names = records.get(_MAKE_MODEL, b"").split(b"\0")
    if len(names) >= 2:
        tags["Image Make"], tags["Image Model"] = names[0], names[1]
    seconds = _numbers(records.get(_TIME), order + "I")
    if seconds and seconds[0]:
        tags["EXIF DateTimeOriginal"] = datetime.fromtimestamp(seconds[0], UTC).strftime("%Y:%m:%d %H:%M:%S")
    return tags


def _exposure(records: Records, order: str) -> dict[str, object]:
    tags: dict[str, object] = {}
    focal = _numbers(records.get(_FOCAL), order + "2H")
    settings = _numbers(records.get(_SETTINGS), order + f"{_FOCAL_UNITS + 1}H")
    if focal and settings:
        tags["EXIF FocalLength"] = [focal[1] / max(settings[_FOCAL_UNITS], 1)]
    shot = _numbers(records.get(_SHOT), order + "23h")
    if shot:
        tags.update(_apex(shot))
    return tags


def _apex(shot: tuple[int, ...]) -> dict[str, object]:
    """Exposure values, which stand in 1/32 of a stop; 0 is a blank for all but the bias."""
    auto_iso, base_iso, bias, aperture, time = (shot[place] for place in _SHOT_PLACES)
    tags: dict[str, object] = {"EXIF ExposureBiasValue": [Fraction(bias, 32)]}
    if base_iso:
        tags["CIFF ISO"] = [round(2 ** (base_iso / 32) * 100 / 32 * 2 ** (auto_iso / 32))]
    if aperture:
        tags["EXIF ApertureValue"] = [Fraction(aperture, 32)]
    if time:
        tags["EXIF ShutterSpeedValue"] = [Fraction(time, 32)]
    return tags


def _picture(records: Records, order: str) -> tuple[int | None, int | None, int | None]:
    picture = _numbers(records.get(_PICTURE), order + "2Ifi")
    return (picture[0] or None, picture[1] or None, picture[3]) if picture else (None, None, None)


def _numbers(record: bytes | None, layout: str) -> tuple[int, ...] | None:
    if record is None or len(record) < struct.calcsize(layout):
        return None
    return struct.unpack_from(layout, record)
