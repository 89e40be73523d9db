"""Which cells of a log-ratio map do not follow the rest: clouds, waves, people, branches."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from audit.optics.arrays import Floats

Mask = NDArray[np.bool_]

CELL_PX = 4
FOLLOWS_STOPS = 0.15
"""A cell follows if it lies this near to what its place and its tone let expect."""
FOLLOWS_SHARE = 0.1
"""The same, of the difference between the two pictures: what a tone curve may still be wrong by."""
_LARGE_STOPS = 0.5
_ROUNDS = 6
_STILL = 1e-6
"""Keeps the fit solvable where all cells have one tone."""


def odd_cells(ratio: Floats, tone: Floats) -> tuple[Mask, float]:
    """Pixels of the cells that do not follow (the map's shape), and their share of the known cells.

    What is expected is a smooth surface over the picture (light that drifts, a lens' falloff, a filter that
    is not quite even) and a smooth function of `tone` (a tone curve not quite right), fitted robustly.
    """
    values, tones = _cells(ratio), _cells(tone)
    known = np.isfinite(values)
    if known.sum() < 30:
        return np.zeros(ratio.shape, np.bool_), 0.0
    terms = _terms(values.shape, tones)[known]
    wanted = values[known]
    allowed = FOLLOWS_STOPS + FOLLOWS_SHARE * abs(float(np.median(wanted)))
    weight, miss = np.ones(len(wanted)), wanted
    for _ in range(_ROUNDS):
        normal = (terms * weight[:, None]).T @ terms + _STILL * np.eye(terms.shape[1])
        miss = np.abs(wanted - terms @ np.linalg.solve(normal, terms.T @ (weight * wanted)))
        weight = 1 / (1 + (miss / allowed) ** 2)
    odd = np.zeros(values.shape, np.bool_)
    odd[known] = miss > allowed
    return _spread(odd, ratio.shape), float(odd.sum() / known.sum())


def unlike(light_a: Floats, light_b: Floats) -> float:
    """How little the detail of two log lights has in common: 0 the same, 1 nothing.

    Steps from cell to cell of the ratio, as a share of the steps in both: about 1 for another composition,
    and for an even sky, where there is no detail but noise.
    """
    known = np.isfinite(light_a - light_b)
    parts = (np.where(known, light, np.nan) for light in (light_a - light_b, light_a, light_b))
    ratio, one, other = (_detail(_cells(part)) for part in parts)
    return ratio / max(float(np.hypot(one, other)), 1e-6)


def _detail(cells: Floats) -> float:
    """Mean step between neighbouring cells, large ones cut down; 0 where nothing is known."""
    steps = np.abs(np.concatenate([np.diff(cells, axis=0).ravel(), np.diff(cells, axis=1).ravel()]))
    known = steps[np.isfinite(steps)]
    return float(np.minimum(known, _LARGE_STOPS).mean()) if known.size else 0.0


def _terms(shape: tuple[int, ...], tone: Floats) -> Floats:
    """Surface of second order over the picture and over the tone, (rows, columns, terms)."""
    y, x = np.meshgrid(*(np.linspace(-1, 1, n) for n in shape), indexing="ij")
    t = (tone - np.nanmedian(tone)) / 2
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y, t, t * t], axis=-1)


def _cells(picture: Floats) -> Floats:
    """Means of square cells; NaN where more than half of a cell is unknown."""
    rows, columns = (n // CELL_PX for n in picture.shape)
    cut = picture[: rows * CELL_PX, : columns * CELL_PX]
    cells = cut.reshape(rows, CELL_PX, columns, CELL_PX)
    known = np.isfinite(cells)
    count = known.sum(axis=(1, 3))
    total = np.where(known, cells, 0.0).sum(axis=(1, 3))
    return np.where(count >= CELL_PX**2 / 2, total / np.maximum(count, 1), np.nan)


def _spread(odd: Mask, shape: tuple[int, ...]) -> Mask:
    """Cells back to pixels; the rest at the edges follows its neighbours."""
    wide = np.repeat(np.repeat(odd, CELL_PX, axis=0), CELL_PX, axis=1)
    lacking = [(0, n - m) for n, m in zip(shape, wide.shape, strict=True)]
    return np.pad(wide, lacking, mode="edge")
