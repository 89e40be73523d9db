"""Pairs of pictures with and without a cut in the corners, and photographs that a cut is laid over.

The cut comes from the simulator's rays, which share no code with the library. Light, cameras and JPEG coding
are those of `foreign`.
"""

import functools
import io
from pathlib import Path

import foreign
import numpy as np
from PIL import Image

from audit.demo.rays import Bundle, Round, unobstructed
from audit.demo.scene import LOOKS, paint

WIDE, HIGH = 640, 426
DEPTH_MM, AHEAD_MM = 25.0, 8.0
NODES = (145, 97)
PHOTOGRAPHS = Path(__file__).parents[3] / "shared" / "photos"
FAMILIES = {"ground": ("snaps_*/*", "street_*/*"), "aerial": ("aerial_*_quarter/*",)}
LONGEST_PX = 640
_LIGHT = np.linspace(0, 1, 20001)


@functools.lru_cache(maxsize=64)
def ring(focal_mm, f_number, loss_stops, half=(18.0, 12.0)):
    """The bundle, and a round opening that takes so many stops of it in the extreme corner."""
    bundle = Bundle(focal_mm, f_number, DEPTH_MM)
    corner = np.array([half[0] / focal_mm]), np.array([half[1] / focal_mm])
    low, high = 2.0, 200.0
    for _ in range(40):
        middle = (low + high) / 2
        passed = unobstructed(*corner, bundle, [Round(middle, AHEAD_MM)], rays=8192)[0]
        low, high = (middle, high) if passed < 2**-loss_stops else (low, middle)
    return bundle, Round(high, AHEAD_MM)


@functools.lru_cache(maxsize=64)
def cut(focal_mm, f_number, loss_stops, shape):
    """Fraction that passes in the middle of each pixel, (rows, columns), float32."""
    rows, columns = shape
    half = np.array([columns, rows]) / np.hypot(columns, rows) * np.hypot(18, 12)
    bundle, opening = ring(focal_mm, f_number, loss_stops, tuple(half))
    x, y = (np.linspace(-h, h, n) / focal_mm for h, n in zip(half, NODES, strict=True))
    passed = unobstructed(*np.meshgrid(x, y), bundle, [opening], rays=1024)
    for axis, (count, nodes) in enumerate(zip(shape, NODES[::-1], strict=True)):
        at = (np.arange(count) + 0.5) / count * (nodes - 1)
        low = at.astype(int)
        part = np.expand_dims(at - low, 1 - axis)
        passed = np.take(passed, low, axis) * (1 - part) + np.take(passed, low + 1, axis) * part
    return passed.astype(np.float32)


@functools.lru_cache(maxsize=48)
def scene(look, seed, hour, still_water):
    """Painted light, somewhat larger than the pictures, so that it can be shifted."""
    return paint(look, seed, WIDE + 8, HIGH + 8, hour, still_water)


def smooth(rng, rows, columns, cells):
    """A smooth field of standard deviation 1 or less."""
    grid = rng.standard_normal((cells, round(cells * columns / rows))).astype(np.float32)
    return np.asarray(Image.fromarray(grid).resize((columns, rows), Image.Resampling.BICUBIC))


def pair(number, *, loss=0.0, focal=20, f_number=8, apart=0.4, drift=0.0, cloud=0.0, water=False, shift=0.0):
    """Grey codes of a bare and a worn frame.

    The exposures differ by up to `apart` stops; `drift` is the standard deviation in stops of a gradient
    across, one down, and a step between sky and ground; `cloud` that of clouds that move by 3 to 30 % of the
    width; `shift` how far in pixels the worn picture may lie from the bare one.
    """
    rng = np.random.default_rng(number)
    look, curve = list(LOOKS)[number % 5], list(foreign.CURVES)[(number // 5) % 6]
    seed = int(rng.integers(0, 8))
    hour = (8.0, 12.0, 17.0, 18.5)[seed % 4]
    bare = scene(look, seed, hour, 0.0) * 0.17
    worn = scene(look, seed, hour, 1.0) * 0.17 if water else bare
    bare, worn = bare[4:-4, 4:-4], _moved(worn, *rng.uniform(-shift, shift, 2))
    return spoilt(bare, worn, curve, rng, loss, focal, f_number, apart, drift, cloud)


def spoilt(bare, worn, curve, rng, loss, focal, f_number, apart, drift, cloud):
    """Grey codes of light of a bare and a worn frame after exposure, weather, the cut and JPEG coding."""
    rows, columns = bare.shape[:2]
    level = 2.0 ** rng.uniform(-1, 0.3)
    bare, worn = bare * level, worn * level * 2.0 ** rng.uniform(-apart, apart)
    y, x = np.linspace(-1, 1, rows, dtype=np.float32)[:, None], np.linspace(-1, 1, columns, dtype=np.float32)
    sky = 1 / (1 + np.exp((y + rng.uniform(-0.2, 0.2)) * 15))
    slopes = rng.normal(0, drift, 3) if drift else np.zeros(3)
    worn = worn * (2 ** (slopes[0] * x + slopes[1] * y + slopes[2] * sky))[..., None]
    if cloud:
        clouds, by = smooth(rng, rows, 2 * columns, 6) * sky[:, :1], int(rng.uniform(0.03, 0.3) * columns)
        bare = bare * (2 ** (cloud * clouds[:, :columns]))[..., None]
        worn = worn * (2 ** (cloud * clouds[:, by : by + columns]))[..., None]
    if loss:
        worn = worn * cut(focal, f_number, loss, (rows, columns))[..., None]
    quality, noise = int(rng.integers(85, 96)), int(rng.integers(1 << 30))
    a, b = (
        foreign.grey(foreign.photograph(light, curve, seed=noise + k, quality=quality))
        for k, light in enumerate((bare, worn))
    )
    return a, b


def _moved(light, down, right):
    """The inner part of a picture, moved by parts of a pixel."""
    for axis, by in ((0, down), (1, right)):
        low = int(np.floor(by))
        part = by - low
        moved = np.roll(light, low, axis) * (1 - part)
        light = (moved + np.roll(light, low + 1, axis) * part).astype(np.float32)
    return light[4:-4, 4:-4]


def through(codes, number, *, loss=0.0, focal=20, f_number=8, apart=0.4, drift=0.0, cloud=0.0):
    """Grey codes of a bare and a worn frame of a photograph, through the curve of a camera."""
    rng = np.random.default_rng(number)
    curve = list(foreign.CURVES)[number % 6]
    # Less light than it was taken with, so that brighter frames do not only clip.
    light = light_of(codes, curve) * 0.6
    return spoilt(light, light, curve, rng, loss, focal, f_number, apart, drift, cloud)


def photographs(family):
    """(name, RGB codes at most LONGEST_PX long) of a family; empty where the photographs are absent."""
    found = []
    for path in sorted(p for pattern in FAMILIES[family] for p in PHOTOGRAPHS.glob(pattern)):
        with Image.open(path) as picture:
            picture.draft("RGB", (LONGEST_PX, LONGEST_PX))
            small = picture.convert("RGB")
        scale = max(small.size) / LONGEST_PX
        if scale > 1:
            small = small.resize([round(n / scale) for n in small.size], Image.Resampling.BOX)
        found.append((path.name, np.asarray(small)))
    return found


@functools.cache
def _light_of(curve):
    return np.interp(np.arange(256), foreign.codes_of(_LIGHT, curve), _LIGHT).astype(np.float32)


def light_of(codes, curve):
    """Linear light of codes 0 to 255, as a camera of that curve would have seen it."""
    return _light_of(curve)[codes]


def radius(shape):
    """Image height of each pixel in half diagonals."""
    rows, columns = shape[:2]
    return np.hypot((np.arange(rows) + 0.5 - rows / 2)[:, None], np.arange(columns) + 0.5 - columns / 2) / (
        np.hypot(rows, columns) / 2
    )


def smooth_loss(shape, loss_stops, onset=0.82):
    """Fraction that passes four corners cut smoothly: t^2 (3 - 2 t) of the loss, t from the onset on."""
    t = np.clip((radius(shape) - onset) / (1 - onset), 0, 1)
    return (2.0 ** (-loss_stops * t * t * (3 - 2 * t))).astype(np.float32)


def smooth_cut(codes, number, loss_stops, onset=0.82):
    """Grey codes of a photograph with four corners cut smoothly, its light through the curve of a camera."""
    curve = list(foreign.CURVES)[number % 6]
    light = light_of(codes, curve) * smooth_loss(codes.shape, loss_stops, onset)[..., None]
    coded = np.clip(foreign.codes_of(light, curve) + 0.5, 0, 255).astype(np.uint8)
    out = io.BytesIO()
    Image.fromarray(coded).save(out, "JPEG", quality=90)
    return foreign.grey(out.getvalue())
