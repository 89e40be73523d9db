"""Lays one small picture over another: by how many whole cells it is shifted.

Phase correlation of log light proposes places; a place is taken only if the fine detail of the two pictures
agrees there clearly better than with no shift at all, so that an even sky or a wrong peak moves nothing.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.optics.arrays import Floats
from audit.optics.response import BRIGHTEST, DARKEST, Curve, light_stops
from audit.pixels.sketch import Codes

Shift = tuple[int, int]

FARTHEST = 0.12
"""Of the long side: shifts looked for. What can be used is far less, but has to be told from no shift."""
PROPOSED = 3
CLEARLY = 0.92
"""Detail left over at the shift, of what no shift leaves, below which the shift is believed."""
_FINEST_PX, _COARSEST = 1.5, 0.25
"""Detail that takes part: not single cells (noise, JPEG), nor what spans a quarter of the picture."""
_ROBUST_STOPS = 0.4


def register(a: Codes, b: Codes, curve: Curve) -> Shift:
    """(down, right): b[row + down, column + right] shows what a[row, column] shows.

    Codes of two pictures of one shape, which may be some stops apart.
    """
    light_a, light_b = light_stops(a, curve), light_stops(b, curve)
    best: Shift = (0, 0)
    limit = left_over(light_a, light_b, best) * CLEARLY
    for shift in _proposed(*(light_stops(np.clip(c, DARKEST, BRIGHTEST), curve) for c in (a, b))):
        left = left_over(light_a, light_b, shift)
        if left < limit:
            best, limit = shift, left
    return best


def overlap(a: NDArray[Any], b: NDArray[Any], shift: Shift) -> tuple[NDArray[Any], NDArray[Any]]:
    """b laid over a: the parts of both that show the same, of one shape."""
    here = tuple(slice(max(0, -s), n - max(0, s)) for s, n in zip(shift, a.shape, strict=True))
    there = tuple(slice(max(0, s), n - max(0, -s)) for s, n in zip(shift, a.shape, strict=True))
    return a[here], b[there]


def left_over(a: Floats, b: Floats, shift: Shift) -> float:
    """How badly two log lights (NaN where unknown) agree in detail once b is shifted.

    Mean step of the log ratio from cell to cell, in stops, large ones cut down.

    Steps, not the ratio itself: a tone curve that is not quite right bends the ratio, but smoothly.
    """
    here, there = overlap(a, b, shift)
    ratio = here - there
    down = ratio[2::2, ::2] - ratio[:-2:2, ::2]  # every second cell will do
    right = ratio[::2, 2::2] - ratio[::2, :-2:2]
    steps = np.abs(np.concatenate([down.ravel(), right.ravel()]))
    known = steps[np.isfinite(steps)]
    if known.size < 0.01 * a.size:
        return np.inf
    return float(np.minimum(known, _ROBUST_STOPS).mean())


def _proposed(a: Floats, b: Floats) -> list[Shift]:
    """The highest peaks of the phase correlation within reach, the highest first."""
    rows, columns = a.shape
    product = np.conj(np.fft.rfft2(_windowed(a))) * np.fft.rfft2(_windowed(b))
    down, right = np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(columns)[None, :]
    waves = np.hypot(down, right)
    detail = np.exp(-((waves * _FINEST_PX) ** 2) * 2) * (waves > 1 / (_COARSEST * max(rows, columns)))
    surface = np.fft.irfft2(product / np.maximum(np.abs(product), 1e-12) * detail, s=(rows, columns))
    reach = max(2, round(FARTHEST * max(rows, columns)))
    index = np.arange(-reach, reach + 1)
    near = surface[np.ix_(index % rows, index % columns)].copy()
    found = []
    for _ in range(PROPOSED):
        row, column = (int(n) for n in np.unravel_index(int(near.argmax()), near.shape))
        found.append((row - reach, column - reach))
        near[max(0, row - 2) : row + 3, max(0, column - 2) : column + 3] = -np.inf
    return found


def _windowed(light: Floats) -> Floats:
    """Mean removed and faded out towards the edges."""
    rows, columns = light.shape
    window = np.hanning(rows + 2)[1:-1, None] * np.hanning(columns + 2)[None, 1:-1]
    return (light - light.mean()) * window
