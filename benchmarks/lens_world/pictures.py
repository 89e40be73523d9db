"""Test frames of an even sky as a camera stores them: traced light, a tone curve not ours, JPEG."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from PIL import Image

from audit.demo.exif_block import (
    EXIF_POINTER,
    Directory,
    ratio,
    raw_bytes,
    short,
    text,
    tiff_block,
    with_exif,
)
from benchmarks.lens_world.lenses import Floats, TracedLens
from benchmarks.lens_world.truth import Frame, Part, Tilt, shares

WIDTH_PX, HEIGHT_PX = 750, 500
WIDTH_MM, HEIGHT_MM = 36.0, 24.0
THETA_STEP_DEG, DIRECTIONS = 0.4, 24
SHOT_NOISE, READ_NOISE = 0.004, 0.0008
"""Of the sensor's white: the square root of light times the first, and the second."""


@dataclass(frozen=True)
class Camera:
    """A body: `off_mm` is the axis seen from the picture's middle; `tone` contrast, toe and shoulder."""

    off_mm: tuple[float, float]
    tone: tuple[float, float, float]
    quality: int


@dataclass(frozen=True)
class Sky:
    """The sky's light: stops from corner to corner, towards `turn` (radians), bend, clouds, exposure.

    `cloud_stops` is the spread of soft clouds; two frames have different ones.
    """

    stops: float
    turn: float
    bend_stops: float = 0.0
    cloud_stops: float = 0.0
    exposure_stops: float = 0.0
    seed: int = 0


def camera(rng: np.random.Generator) -> Camera:
    """A body by lot."""
    off = rng.normal(0, 0.25, 2)
    contrast, toe, shoulder = rng.uniform(1.05, 1.6), rng.uniform(0, 0.015), rng.uniform(1.4, 3.0)
    tone = float(contrast), float(toe), float(shoulder)
    return Camera((float(off[0]), float(off[1])), tone, int(rng.integers(80, 97)))


def photograph(
    lens: TracedLens,
    f_number: float,
    parts: Sequence[Part],
    tilt: Tilt,
    body: Camera,
    sky: Sky,
    enlarged: float = 1.0,
) -> np.ndarray:
    """Grey codes before JPEG; `enlarged`: how much larger focus or zoom made the picture."""
    x = (np.arange(WIDTH_PX) + 0.5 - WIDTH_PX / 2) * WIDTH_MM / WIDTH_PX
    y = -(np.arange(HEIGHT_PX) + 0.5 - HEIGHT_PX / 2)[:, None] * HEIGHT_MM / HEIGHT_PX
    from_x, from_y = (x - body.off_mm[0]) / enlarged, (y - body.off_mm[1]) / enlarged
    theta = lens.theta_deg(np.hypot(from_x, from_y))
    light = lens.light(theta, f_number) * _sky(x, y, sky)
    if parts:
        light = light * _passed(lens, f_number, parts, tilt, theta, np.degrees(np.arctan2(from_y, from_x)))
    rng = np.random.default_rng(sky.seed)
    light = 0.35 * light * 2.0**sky.exposure_stops
    light = light + rng.standard_normal(light.shape) * np.sqrt(light * SHOT_NOISE**2 + READ_NOISE**2)
    return np.asarray(np.clip(_codes(light, body.tone) + 0.5, 0, 255).astype(np.uint8))


def _sky(x: Floats, y: Floats, sky: Sky) -> Floats:
    half = np.hypot(WIDTH_MM, HEIGHT_MM) / 2
    along = (np.cos(sky.turn) * x + np.sin(sky.turn) * y) / half
    stops = sky.stops / 2 * along + sky.bend_stops * along**2
    if sky.cloud_stops:
        rng = np.random.default_rng(sky.seed + 1)
        small = Image.fromarray(rng.standard_normal((5, 7)).astype(np.float32))
        stops = stops + sky.cloud_stops * np.asarray(small.resize((x.size, y.size), Image.Resampling.BICUBIC))
    return np.asarray(2.0**stops)


def _passed(
    lens: TracedLens, f_number: float, parts: Sequence[Part], tilt: Tilt, theta: Floats, phi: Floats
) -> Floats:
    """Share that passes in each pixel, from a grid over directions and angles."""
    angles = np.arange(0.0, float(theta.max()) + 2 * THETA_STEP_DEG, THETA_STEP_DEG)
    angles = np.minimum(angles, lens.angles_deg[-1])
    count = DIRECTIONS if any(isinstance(part, Frame) for part in parts) else DIRECTIONS // 2
    step = 360.0 / count
    grid = shares(lens, angles, np.linspace(0.0, 360.0 - step, count), f_number, parts, tilt)
    row, column = (phi % 360.0) / step, theta / THETA_STEP_DEG
    low_row, low_column = row.astype(int), np.minimum(column.astype(int), len(angles) - 2)
    up, right = row - low_row, column - low_column
    rows = (low_row % count, (low_row + 1) % count)
    near = [grid[one, low_column + more] for one in rows for more in (0, 1)]
    return np.asarray(
        (1 - up) * ((1 - right) * near[0] + right * near[1]) + up * ((1 - right) * near[2] + right * near[3])
    )


def _codes(light: Floats, tone: tuple[float, float, float]) -> Floats:
    """Codes of linear light, 1 being the sensor's white: more contrast about a middle grey, toe, shoulder."""
    contrast, toe, shoulder = tone
    bent = 0.18 * (np.clip(light, 0, 1) / 0.18) ** contrast
    white = 0.18 * (1 / 0.18) ** contrast
    bent = bent / (1 + bent**shoulder) ** (1 / shoulder) * (1 + white**shoulder) ** (1 / shoulder) / white
    bent = (bent * (1 + toe) - toe * (1 - np.exp(-bent / 0.01))).clip(0, 1)
    return np.asarray(255 * np.where(bent <= 0.0031308, 12.92 * bent, 1.055 * bent ** (1 / 2.4) - 0.055))


def jpeg(codes: np.ndarray, quality: int, focal_mm: float, f_number: float, lens: str, minute: int) -> bytes:
    """The file of a frame with its EXIF."""
    out = io.BytesIO()
    Image.fromarray(np.repeat(codes[..., None], 3, axis=2)).save(out, "JPEG", quality=quality)
    exif = {
        0x829A: ratio((1, 100)),
        0x829D: ratio((round(f_number * 10), 10)),
        0x8827: short(100),
        0x9000: raw_bytes(b"0232"),
        0x9003: text(f"2026:05:02 {10 + minute // 60:02d}:{minute % 60:02d}:00"),
        0x920A: ratio((round(focal_mm * 10), 10)),
        0xA434: text(lens),
    }
    main = {0x010F: text("Brattholm"), 0x0110: text("Brattholm Tarn"), 0x0112: short(1)}
    return with_exif(out.getvalue(), tiff_block([Directory(main, below={EXIF_POINTER: Directory(exif)})]))
