"""Where in a picture its corners, their neighbourhoods and the uncut inner field lie."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from audit.optics.arrays import Floats

Mask = NDArray[np.bool_]
Four = tuple[float, float, float, float]

CORNER = 0.98
"""Image height in half diagonals from which a corner is measured: behind a 20 mm lens at f/8 on 36 x 24 mm a
cut of half a stop in the extreme corner begins here and is 0.15 stop in the mean; from 0.95 on, 0.02."""
LEAST_PIXELS = 9
INNER = 0.85
"""Image height up to which the uncut picture is learnt from."""
NEIGHBOURS, RING, SECTOR_DEG = (0.80, 0.95), 0.025, 25.0
"""Image heights, width of a ring and half width of the sector that tell how steady a corner is."""
BLOCK_PX = 4
"""About as many pixels as a corner has, on a side."""
OPPOSITE = ((0, 3), (1, 2))
"""Indices of opposite corners: top left, top right, bottom left, bottom right."""
_FINE = (320, 213)


@dataclass(frozen=True, eq=False)
class Regions:
    """Places in a picture of one shape: x right and y down in half diagonals, corners in the usual order."""

    x: Floats
    y: Floats
    inner: Mask
    corners: tuple[Mask, Mask, Mask, Mask]
    blocks: tuple[Rings, Rings, Rings, Rings]


@dataclass(frozen=True, eq=False)
class Rings:
    """Blocks beside a corner: their places (row, column) and the ring each lies in."""

    rows: NDArray[np.intp]
    columns: NDArray[np.intp]
    ring: NDArray[np.intp]


@lru_cache(maxsize=8)
def regions_of(shape: tuple[int, int]) -> Regions | None:
    """The regions of pictures of a shape (rows, columns); None where the corners have too few pixels."""
    x, y = _places(shape)
    radius = np.hypot(x, y)
    quarters = _quarters(x, y)
    corners = [quarter & (radius > CORNER) for quarter in quarters]
    if min(int(corner.sum()) for corner in corners) < LEAST_PIXELS:
        return None
    diagonal = np.arctan2(shape[0], shape[1])
    near = np.abs(np.arctan2(np.abs(y), np.abs(x)) - diagonal) <= np.radians(SECTOR_DEG)
    a, b, c, d = corners
    e, f, g, h = (_rings(radius, quarter & near) for quarter in quarters)
    return Regions(x, y, radius < INNER, (a, b, c, d), (e, f, g, h))


def block_means(picture: Floats) -> Floats:
    """Means of square blocks, (rows / 4, columns / 4) rounded down; NaN where fewer than half are known."""
    rows, columns = (n // BLOCK_PX for n in picture.shape)
    cut = picture[: rows * BLOCK_PX, : columns * BLOCK_PX].reshape(rows, BLOCK_PX, columns, BLOCK_PX)
    count = np.isfinite(cut).sum(axis=(1, 3))
    total = np.nansum(cut, axis=(1, 3))
    return np.where(count >= BLOCK_PX**2 / 2, total / np.maximum(count, 1), np.nan)


def corners_of_map(loss_map: Floats) -> Four:
    """Mean of each corner region of a map whose outermost cells lie on the picture's edge."""
    rows, columns = loss_map.shape
    wide, high = _FINE if columns >= rows else _FINE[::-1]
    x, y = _places((high, wide))
    fine = _between(loss_map, (np.arange(high) + 0.5) / high, (np.arange(wide) + 0.5) / wide)
    outside = np.hypot(x, y) > CORNER
    a, b, c, d = (float(fine[quarter & outside].mean()) for quarter in _quarters(x, y))
    return a, b, c, d


def _places(shape: tuple[int, int]) -> tuple[Floats, Floats]:
    rows, columns = shape
    half = np.hypot(rows, columns) / 2
    x, y = np.meshgrid(
        (np.arange(columns) + 0.5 - columns / 2) / half, (np.arange(rows) + 0.5 - rows / 2) / half
    )
    return x, y


def _quarters(x: Floats, y: Floats) -> list[Mask]:
    return [(y < 0) & (x < 0), (y < 0) & (x > 0), (y > 0) & (x < 0), (y > 0) & (x > 0)]


def _rings(radius: Floats, part: Mask) -> Rings:
    height = block_means(radius)
    inside = (
        (block_means(part.astype(np.float64)) > 0.5) & (height > NEIGHBOURS[0]) & (height < NEIGHBOURS[1])
    )
    rows, columns = np.nonzero(inside)
    return Rings(rows, columns, ((height[inside] - NEIGHBOURS[0]) / RING).astype(np.intp))


def _between(values: Floats, down: Floats, right: Floats) -> Floats:
    """A map at other places, 0 to 1 of its height and width, linear between its cells."""
    for axis, place in enumerate((down, right)):
        at = place * (values.shape[axis] - 1)
        low = np.minimum(at.astype(np.intp), max(0, values.shape[axis] - 2))
        high = np.minimum(low + 1, values.shape[axis] - 1)
        part = (at - low)[:, None] if axis == 0 else (at - low)[None, :]
        values = np.take(values, low, axis) * (1 - part) + np.take(values, high, axis) * part
    return values
