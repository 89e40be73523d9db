"""Colours of a JPEG as chromaticities, and shifts of a grey along and across the daylight locus.

Sources: sRGB transfer function and matrix IEC 61966-2-1; u'v' CIE 1976; daylight locus CIE 15: x from the
correlated colour temperature, y = -3 x^2 + 2.87 x - 0.275. Mired: 1e6 / temperature in kelvin.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from audit.optics.arrays import Floats

XYZ_OF_SRGB = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]], dtype=np.float64
)
"""Linear sRGB to XYZ, IEC 61966-2-1; white is D65."""
WHITE_XY = (0.3127, 0.3290)
"""D65 as IEC 61966-2-1 writes it."""
LOCUS_KELVIN = (4000.0, 25000.0)
"""Range in which CIE 15 gives the daylight locus."""
_STEPS = 2000


@dataclass(frozen=True)
class Shift:
    """Where a grey went from white.

    Attributes
    ----------
    uv : distance in the u'v' diagram [1]
    mired : part along the daylight locus, positive is warmer [mired]
    along : the same part as a distance in u'v', positive is warmer [1]
    across : part across the locus in u'v', positive is greener [1]
    """

    uv: float
    mired: float
    along: float
    across: float


def srgb_decoded(encoded: ArrayLike) -> Floats:
    """Linear light of encoded sRGB: a straight line up to 0.04045, above it a power of 2.4.

    Parameters
    ----------
    encoded : code / 255, 0 to 1, any shape [1]
        NaN gives NaN; what lies below 0 stays on the straight line.

    Returns
    -------
    light as a share of white, of the shape of `encoded` [1]

    Source
    ------
    IEC 61966-2-1, transfer function.
    """
    value = np.asarray(encoded, dtype=np.float64)
    return np.where(value <= 0.04045, value / 12.92, ((np.maximum(value, 0) + 0.055) / 1.055) ** 2.4)


def uv_of_xy(x: ArrayLike, y: ArrayLike) -> Floats:
    """u'v' of chromaticities x, y: u' = 4 x / (-2 x + 12 y + 3), v' = 9 y / (-2 x + 12 y + 3).

    Parameters
    ----------
    x : any shape [1]
    y : of the shape of `x` [1]

    Returns
    -------
    u' and v', shape (..., 2); both NaN where x or y is [1]

    Source
    ------
    CIE 1976 uniform chromaticity scale.
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    below = -2 * x + 12 * y + 3
    return np.stack([4 * x / below, 9 * y / below], axis=-1)


def uv_of_srgb(linear: ArrayLike) -> Floats:
    """u'v' of linear sRGB.

    Parameters
    ----------
    linear : red, green and blue light, shape (..., 3) [1]

    Returns
    -------
    u' and v', shape (..., 2); NaN for black, which has none, and where a channel is NaN [1]

    Source
    ------
    Matrix to XYZ: IEC 61966-2-1; u'v': CIE 1976.
    """
    xyz = np.asarray(linear, dtype=np.float64) @ XYZ_OF_SRGB.T
    total = xyz @ np.array([1.0, 15.0, 3.0])
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.stack([4 * xyz[..., 0] / total, 9 * xyz[..., 1] / total], axis=-1)


def mired(kelvin: ArrayLike) -> Floats:
    """Mired of a colour temperature, and the other way round: 1e6 / temperature.

    Parameters
    ----------
    kelvin : or mired, any shape [K]
        NaN gives NaN.

    Returns
    -------
    mired, or kelvin of mired [mired]

    Source
    ------
    Definition; values as in any table of conversion filters.
    """
    return 1e6 / np.asarray(kelvin, dtype=np.float64)


def daylight_xy(kelvin: ArrayLike) -> Floats:
    """Chromaticity of daylight of a correlated colour temperature.

    x is a cubic in 1 / temperature, one up to 7000 K and one above; y = -3 x^2 + 2.87 x - 0.275.

    Parameters
    ----------
    kelvin : 4000 to 25000, any shape [K]
        Beyond this range the formula runs on, where CIE 15 gives none. NaN gives NaN.

    Returns
    -------
    x and y, shape (..., 2) [1]

    Source
    ------
    CIE 15:2004, daylight locus.
    """
    t = np.asarray(kelvin, dtype=np.float64)
    low = -4.6070e9 / t**3 + 2.9678e6 / t**2 + 0.09911e3 / t + 0.244063
    high = -2.0064e9 / t**3 + 1.9018e6 / t**2 + 0.24748e3 / t + 0.237040
    x = np.where(t <= 7000, low, high)
    return np.stack([x, -3 * x**2 + 2.87 * x - 0.275], axis=-1)


def grey_shift(factors: ArrayLike) -> Shift:
    """How a grey is shifted whose linear red, green and blue are multiplied by factors.

    Parameters
    ----------
    factors : of red, green and blue, above 0, shape (3,) [1]
        Only their proportions matter. Black and NaN give NaN, but for `mired`, which then says nothing.

    Returns
    -------
    the shift from D65; its `mired` runs between the points of the daylight locus nearest to both [-]

    Source
    ------
    Own derivation, on the daylight locus of CIE 15 in u'v' of CIE 1976.
    """
    white, (u, v) = uv_of_xy(*WHITE_XY), uv_of_srgb(factors)
    mireds, locus, tangents = _locus()
    place = np.array([u, v])
    home, there = (int(np.argmin(((locus - p) ** 2).sum(axis=1))) for p in (white, place))
    moved = place - white
    tangent = tangents[(home + there) // 2]
    normal = np.array([-tangent[1], tangent[0]])
    return Shift(
        float(np.hypot(*moved)),
        float(mireds[there] - mireds[home]),
        float(moved @ tangent),
        float(moved @ normal),
    )


@lru_cache(maxsize=1)
def _locus() -> tuple[Floats, Floats, Floats]:
    """Mireds of the daylight locus from cool to warm, its u'v', and its direction at each."""
    coolest, warmest = 1e6 / LOCUS_KELVIN[1], 1e6 / LOCUS_KELVIN[0]
    mireds = np.linspace(coolest, warmest, _STEPS)
    locus = uv_of_xy(*np.moveaxis(daylight_xy(1e6 / mireds), -1, 0))
    along = np.gradient(locus, axis=0)
    return mireds, locus, along / np.linalg.norm(along, axis=1, keepdims=True)
