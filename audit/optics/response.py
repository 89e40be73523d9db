"""From the codes of a camera's JPEG back to the light they stand for, in stops.

A camera's tone curve is steeper than sRGB, by 1.1 to 1.6 times; six Legendre coefficients in log light take
most of that back (measured on brackets of real cameras: half a stop apart, 0.03 stop left in the median).
"""

from __future__ import annotations

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import ArrayLike, NDArray

DARKEST, BRIGHTEST = 8, 247
"""Codes outside are too near black or white to say how much light there was."""

COEFFICIENTS = (-0.4802, 0.7983, -0.2374, 0.1132, 0.1306, -0.0857)
"""Legendre orders 1 to 6 over the code, fitted on brackets of six camera models (after Debevec and Malik)."""


def light_stops(codes: ArrayLike) -> NDArray[np.float64]:
    """Scene light in stops (log2, zero point arbitrary) of codes 0 to 255, any shape.

    Increases with the code. Codes below DARKEST or above BRIGHTEST give NaN.
    """
    return _TABLE[np.asarray(codes, dtype=np.uint8)]


def _curve(codes: NDArray[np.float64]) -> NDArray[np.float64]:
    """sRGB (IEC 61966-2-1) in log2, plus the series, which is zero at the middle code."""
    z = codes / 255.0
    linear = np.where(z <= 0.04045, z / 12.92, ((z + 0.055) / 1.055) ** 2.4)
    series = np.array([0.0, *COEFFICIENTS])
    return np.log2(linear) + legendre.legval(2 * z - 1, series) - legendre.legval(0.0, series)


def _table() -> NDArray[np.float64]:
    codes = np.arange(256, dtype=float)
    valid = (codes >= DARKEST) & (codes <= BRIGHTEST)
    return np.where(valid, _curve(np.clip(codes, DARKEST, BRIGHTEST)), np.nan)


_TABLE = _table()
