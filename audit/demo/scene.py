"""Paints invented landscapes as linear light; 1.0 is what an average meter takes for the scene."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Light = NDArray[np.float32]


@dataclass(frozen=True)
class Look:
    """A kind of place: horizon height (0 top, 1 bottom), mountain chains, what lies below the horizon."""

    horizon: float
    chains: int
    rise: float
    ground: str
    land: tuple[float, float, float]


LOOKS = {
    "skerries": Look(0.52, 2, 0.10, "sea", (0.030, 0.034, 0.042)),
    "tarn": Look(0.50, 4, 0.30, "lake", (0.035, 0.045, 0.048)),
    "valley": Look(0.60, 5, 0.34, "meadow", (0.045, 0.060, 0.050)),
    "moor": Look(0.56, 3, 0.14, "heath", (0.070, 0.048, 0.040)),
    "snow": Look(0.55, 3, 0.34, "snowfield", (0.420, 0.460, 0.540)),
}


def paint(look: str, seed: int, width_px: int, height_px: int, hour: float, still_water: float) -> Light:
    """A landscape, height x width x 3, linear, average near 1.

    The same look and seed give the same composition at any hour; `still_water` 0 to 1 smooths the water,
    as long exposures do.
    """
    kind, rng = LOOKS[look], np.random.default_rng(seed)
    x = np.linspace(0.0, width_px / height_px, width_px, dtype=np.float32)
    y = np.linspace(0.0, 1.0, height_px, dtype=np.float32)[:, None]
    horizon = kind.horizon + rng.uniform(-0.05, 0.05)
    tones = _tones(hour, look)
    picture = _sky(x, y, horizon, tones, rng)
    for chain in range(kind.chains):
        _chain(picture, x, y, horizon, chain, kind, tones, rng)
    if kind.ground in ("sea", "lake"):
        _water(picture, y, horizon, tones, 1 - still_water, rng)
    else:
        _ground(picture, x, y, horizon, kind, tones, rng)
    _foreground(picture, x, y, kind, tones, rng)
    return picture / np.float32(picture.mean())


@dataclass(frozen=True)
class _Tones:
    zenith: Light
    low: Light
    sun: Light
    sun_strength: float


def _tones(hour: float, look: str) -> _Tones:
    """Sky colours by how far the hour is from noon: blue by day, warm and steep at both ends of the day."""
    edge = min(1.0, max(0.0, (abs(hour - 13.0) - 3.2) / 2.6))
    dusk = min(1.0, max(0.0, (abs(hour - 13.0) - 5.4) / 1.4))
    noon = np.array([[0.34, 0.52, 0.86], [0.86, 0.93, 1.02]])
    warm = np.array([[0.24, 0.34, 0.62], [1.10, 0.80, 0.52]])
    blue = np.array([[0.12, 0.16, 0.38], [0.98, 0.52, 0.44]])
    mixed = (noon * (1 - edge) + warm * edge) * (1 - dusk) + blue * dusk
    sun = np.array([1.0, 0.95, 0.85]) * (1 - edge) + np.array([1.0, 0.56, 0.22]) * edge
    strength = 0.5 + 1.5 * edge
    if look == "snow":
        strength *= 0.6
    zenith, low, disc = (np.asarray(c, np.float32) for c in (mixed[0], mixed[1], sun))
    return _Tones(zenith, low, disc, strength)


def _noise(x: Light, rng: np.random.Generator, octaves: int, start: float) -> Light:
    """One line of fractal noise, about -1 to 1."""
    total = np.zeros_like(x)
    for octave in range(octaves):
        waves = start * 2.0**octave
        knots = rng.standard_normal(int(waves * float(x[-1])) + 3)
        place = x * waves
        cell = place.astype(int)
        part = place - cell
        ease = part * part * (3 - 2 * part)
        total += (knots[cell] * (1 - ease) + knots[cell + 1] * ease).astype(np.float32) / 2.0**octave
    return total / np.float32(1.6)


def _field(shape: tuple[int, int], rng: np.random.Generator, waves_y: float, waves_x: float) -> Light:
    """A field of smooth noise, about -1 to 1, stretched as asked."""
    total = np.zeros(shape, np.float32)
    for octave in range(4):
        cells_y, cells_x = int(waves_y * 2**octave) + 2, int(waves_x * 2**octave) + 2
        grid = rng.standard_normal((cells_y, cells_x)).astype(np.float32)
        total += _stretched(grid, shape) / 2.0**octave
    return total / np.float32(1.6)


def _stretched(grid: Light, shape: tuple[int, int]) -> Light:
    """A coarse grid blown up with smooth steps."""

    def places(cells: int, count: int) -> tuple[NDArray[np.intp], Light]:
        at = np.linspace(0, cells - 1.001, count, dtype=np.float32)
        cell = at.astype(np.intp)
        part = at - cell
        return cell, (part * part * (3 - 2 * part)).astype(np.float32)

    row, down = places(grid.shape[0], shape[0])
    col, right = places(grid.shape[1], shape[1])
    across = grid[:, col] * (1 - right) + grid[:, col + 1] * right
    return np.asarray(across[row] * (1 - down[:, None]) + across[row + 1] * down[:, None], np.float32)


def _sky(x: Light, y: Light, horizon: float, tones: _Tones, rng: np.random.Generator) -> Light:
    fade = np.clip(y / np.float32(horizon), 0, 1) ** np.float32(1.6)
    sky = tones.zenith * (1 - fade)[..., None] + tones.low * fade[..., None]
    sky = np.broadcast_to(sky, (len(y), len(x), 3)).copy()
    sun_x, sun_y = rng.uniform(0.3, 1.2), horizon - rng.uniform(0.04, 0.14)
    away = ((x - np.float32(sun_x)) / 0.9) ** 2 + ((y - np.float32(sun_y)) / 0.45) ** 2
    glow = tones.sun_strength * np.exp(-away * 5).astype(np.float32)
    sky += glow[..., None] * tones.sun
    clouds = _field((len(y), len(x)), rng, rng.uniform(5, 9), rng.uniform(1.5, 3.0))
    cover = np.clip((clouds - np.float32(rng.uniform(-0.1, 0.35))) * 1.2, 0, 0.75)[..., None]
    lit = tones.low * np.float32(0.85) + glow[..., None] * tones.sun * np.float32(0.9) + np.float32(0.06)
    return np.asarray(sky * (1 - cover) + lit * cover, np.float32)


def _chain(
    picture: Light, x: Light, y: Light, horizon: float, chain: int, kind: Look, tones: _Tones,
    rng: np.random.Generator,
) -> None:  # fmt: skip
    """One chain of mountains; far ones are pale and bluish, near ones dark."""
    near = (chain + 1) / (kind.chains + 0.5)
    peaks = 1.6 + 1.2 * near
    shape = (
        0.55 + 0.45 * _noise(x, rng, 7, peaks) + 0.25 * np.sin(x * rng.uniform(1.5, 3) + rng.uniform(0, 6))
    )
    height = kind.rise * (1.05 - 0.72 * near) * np.clip(shape, 0.04, None)
    crest = np.float32(horizon + 0.01) - height
    part = slice(max(0, int(float(crest.min()) * len(y)) - 1), None)
    down = y[part]
    inside = np.clip((down - crest) * len(y), 0, 1)[..., None]
    haze = tones.low * np.float32(0.62) + tones.zenith * np.float32(0.25)
    tone = np.asarray(kind.land, np.float32) * np.float32(2.2 * near) + haze * np.float32((1 - near) ** 1.3)
    depth = np.clip((down - np.float32(horizon) + height) / np.float32(kind.rise + 0.05), 0, 1)[..., None]
    face = tone * (1 - 0.25 * depth) + haze * np.float32(0.28 * (1 - near) + 0.06) * depth
    relief = 1 + np.float32(0.22) * _field((len(down), len(x)), rng, 5, 16)[..., None]
    picture[part] += (face * relief - picture[part]) * inside


def _water(
    picture: Light, y: Light, horizon: float, tones: _Tones, ripple: float, rng: np.random.Generator
) -> None:
    """The picture mirrored below the horizon, broken by ripples."""
    rows, columns = picture.shape[:2]
    line = int(horizon * rows)
    below = np.arange(line, rows)
    near = ((below - line) / max(1, rows - line)).astype(np.float32)[:, None]
    waves = _field((rows - line, columns), rng, 42, 7) * np.float32(0.12 + 0.88 * ripple)
    mirror = np.clip(2 * line - below[:, None] - 2 + waves * (2 + 26 * near), 0, line - 1).astype(int)
    seen = picture[mirror, np.arange(columns)[None, :]]
    glint = (1 + (0.28 * waves * (0.3 + near)))[..., None]
    depth = (0.80 - 0.30 * near)[..., None]
    picture[line:] = seen * depth * glint + tones.zenith * np.float32(0.05)


def _ground(
    picture: Light, x: Light, y: Light, horizon: float, kind: Look, tones: _Tones, rng: np.random.Generator
) -> None:
    """Rolling land from the horizon down, with texture that grows towards the viewer."""
    edge = np.float32(horizon) - 0.012 * _noise(x, rng, 5, 2.0)
    inside = np.clip((y - edge) * len(y), 0, 1)[..., None]
    near = np.clip((y - edge) / np.float32(1 - horizon), 0, 1)[..., None]
    rows = (len(y), len(x))
    folds = _field(rows, rng, 8, 2.5)[..., None]
    grain = _field(rows, rng, 110, 45)[..., None] * near
    snow = kind.ground == "snowfield"
    base = np.asarray(kind.land, np.float32) * np.float32(2.7 if snow else 4.2)
    rough = (0.14, 0.05) if snow else (0.24, 0.26)
    warm = tones.sun * np.float32((0.45 if snow else 0.10) * tones.sun_strength)
    colour = (
        (base + warm * (0.5 + 0.5 * folds)) * (1.1 - 0.35 * near) * (1 + rough[0] * folds + rough[1] * grain)
    )
    haze = tones.low * np.float32(0.45)
    colour = colour * (0.35 + 0.65 * near) + haze * (0.65 * (1 - near) ** 2)
    picture[:] = picture * (1 - inside) + np.maximum(colour, 0.004) * inside


def _foreground(
    picture: Light, x: Light, y: Light, kind: Look, tones: _Tones, rng: np.random.Generator
) -> None:
    """Rocks, tufts or drifts at the bottom edge."""
    rocks = 9 if kind.ground in ("sea", "lake") else 5
    rows, wide = len(y), len(x)
    relief = 1 + 0.35 * _field((rows, wide), rng, 40, 40)[..., None]
    stone = np.asarray(kind.land, np.float32) * np.float32(1.6 if kind.ground != "snowfield" else 0.25)
    sunny = (tones.low + tones.sun) * np.float32(0.055)
    for base in np.sort(rng.uniform(0.76, 1.05, rocks)):
        middle, size = rng.uniform(0, float(x[-1])), (base - 0.55) * rng.uniform(0.15, 0.42)
        outline = np.clip(1 - ((x - np.float32(middle)) / np.float32(size)) ** 2, 0, None) ** np.float32(0.5)
        top = base - size * rng.uniform(0.3, 0.62) * outline * (1 + 0.16 * _noise(x, rng, 5, 6.0))
        # Only the rows and columns a rock covers are painted.
        part = np.s_[max(0, int(top.min() * rows) - 1) : int(base * rows) + 1, _covered(outline)]
        down = y[part[0]]
        inside = np.clip((down - top[part[1]]) * rows, 0, 1) * np.clip((np.float32(base) - down) * rows, 0, 1)
        lit = np.clip(1 - (down - top[part[1]]) / np.float32(size * 0.5), 0, 1)[..., None] * relief[part]
        colour = stone * (0.55 + 0.9 * lit) + sunny * lit
        picture[part] += (colour - picture[part]) * inside[..., None]


def _covered(outline: Light) -> slice:
    """The columns where an outline is above zero."""
    columns = np.flatnonzero(outline > 0)
    return slice(int(columns[0]), int(columns[-1]) + 1) if len(columns) else slice(0, 0)
