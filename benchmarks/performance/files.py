"""The files that are timed: small JPEGs of invented cameras, some 60 tags each, and what was worn."""

from __future__ import annotations

import sys
from datetime import datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "tests" / "scan"))

from camera_files import THUMBNAIL, block, jpeg, ratio, raw, short, text, whole

BODIES = (
    ("Brattholm Tarn", "3001234", "Sund 16-35 mm f4", "<", 2_000),
    ("Brattholm Skjer", "3009917", "Sund 16-35 mm f4 II", ">", 12_000),
    ("Holme C3", "771", "Holme 16-35 mm f4", "<", 30_000),
)
"""Model, serial number, lens, byte order, bytes of the maker's note (which no reader knows)."""
FIRST = datetime(2026, 5, 2, 5, 0)
"""When the trip begins."""
FRAMES_A_FOLDER, SECONDS_APART, NEXT_SCENE_S = 500, 4, 900
KIT = """[[body]]
name = "A"
model = "Brattholm Tarn"
serial = "3001234"
sensor_mm = [35.9, 24.0]

[[body]]
name = "B"
model = "Brattholm Skjer"
serial = "3009917"
sensor_mm = [35.9, 24.0]

[[body]]
name = "C"
model = "Holme C3"
serial = "771"
sensor_mm = [35.9, 24.0]

[[lens]]
id = "w16"
exif = ["Sund 16-35 mm f4", "Sund 16-35 mm f4 II", "Holme 16-35 mm f4"]
thread_mm = 77
focal_mm = [16, 35]
pupil_depth_mm = 25.0
pupil_depth_err_mm = 2.0

[[ring]]
id = "r77"
thread_mm = 77
kind = "standard"
bore_mm = 74
height_mm = 4

[[holder]]
id = "h1"
slots = 2

[[filter]]
id = "n6"
kind = "neutral"
stops = 6
"""
LONG_NAMES = 40


def small_jpeg(number: int, *, small: bool = False) -> bytes:
    """One frame of a long trip: a scene of fifteen frames, the fifth to ninth of them six stops darker.

    `small` leaves out what only fills: the maker's note, the thumbnail, what would be the picture.
    """
    model, serial, lens, order, note = BODIES[number // 1500 % len(BODIES)]
    scene, place = divmod(number, 15)
    at = FIRST + timedelta(seconds=scene * NEXT_SCENE_S + place * SECONDS_APART)
    dark = 4 <= place < 9
    more = {
        0x829A: ratio((1, 2) if dark else (1, 125)),
        0x9003: text(f"{at:%Y:%m:%d %H:%M:%S}"),
        0xA434: text(lens),
        0x8822: short(3),
        0x9000: raw(b"0232"),
        0x9004: text(f"{at:%Y:%m:%d %H:%M:%S}"),
        0x9204: ratio((0, 1)),
        0x9207: short(5),
        0x9209: short(16),
        0x927C: raw(bytes(8 if small else note)),
        0x9286: raw(bytes(264)),
        0x9291: text("42"),
        0xA001: short(1),
        0xA002: whole(6000),
        0xA003: whole(4000),
        0xA20E: ratio((6000 * 1000, 1417)),
        0xA20F: ratio((4000 * 1000, 945)),
        0xA210: short(2),
        0xA402: short(1),
        0xA403: short(1),
        0xA406: short(0),
        0xA432: ratio((16, 1), (35, 1), (4, 1), (4, 1)),
        **{0xC000 + n: short(n) for n in range(LONG_NAMES)},
    }
    seen = None if small else THUMBNAIL + bytes(6_000)
    made = block(order, thumbnail=seen, model=model, serial=serial, more=more)
    return jpeg(made, size=(6000, 4000)) + bytes(0 if small else 8_000)


def dump(place: Path, frames: int, *, declared: bool = True) -> Path:
    """A dump of so many frames in folders of 500, each folder with a span for what was worn in it."""
    place.mkdir(parents=True)
    (place / "kit.toml").write_text(KIT, encoding="utf-8")
    for first in range(0, frames, FRAMES_A_FOLDER):
        folder = place / f"{100 + first // FRAMES_A_FOLDER}TARNA"
        folder.mkdir()
        last = min(first + FRAMES_A_FOLDER, frames)
        for number in range(first, last):
            (folder / f"TARN{number + 1:04d}.JPG").write_bytes(small_jpeg(number))
        if declared:
            (folder / "filters.toml").write_text(_declaration(first, last), encoding="utf-8")
    return place


def _declaration(first: int, last: int) -> str:
    """A line for each run of frames with the filter, and one for those without."""
    lines = ["[frames]"]
    start = first
    while start < last:
        place = start % 15
        worn = 4 <= place < 9
        end = min(start + (9 if worn else 4 if place < 4 else 15) - place, last)
        lines.append(f'"TARN{start + 1:04d}..TARN{end:04d}" = "{"n6" if worn else "bare"}"')
        start = end
    return "\n".join(lines) + "\n"
