"""Exposure arithmetic: the values a camera names against the exact ones, APEX, and EV at ISO 100.

Cameras name a setting by a rounded number (15 s, f/11) and set an exact power of two (16 s, f/11.31).
Sums of stops come out right only from the exact values. Which nominal number stands for which step of
the third- and half-stop series: common practice, no source.
"""

from __future__ import annotations

from functools import lru_cache
from math import isfinite
from typing import TypeVar

import numpy as np

from audit.message.text import marked

Number = TypeVar("Number", float, np.ndarray)

# How far a written value may lie from a nominal or an exact one, as a fraction: common practice, no source.
# Times are held tighter: phones write a continuous series, and 1/1493 s is not the half stop 1/1500 s.
NOMINAL_F_TOLERANCE = 0.005
NOMINAL_TIME_TOLERANCE = 0.002
EXACT_TOLERANCE = 0.002
THIRD, HALF, WRITTEN = marked("third"), marked("half"), marked("written")
"""The series in which the exact value behind a written one was found; written: in none."""
F_NUMBER_RANGE = (0.5, 1024.0)
"""Outside it an f-number is a slip, or a fault of the file, not a setting: common practice, no source."""
LONGEST_SERIES_TIME_S = 30.0  # above it the shutter is on bulb and the time is a measured one

# Seconds (or one over them) of the third-stop series; position 0 is 1 s, each step a third of a stop.
_THIRDS_LONG = (1, 1.3, 1.6, 2, 2.5, 3.2, 4, 5, 6, 8, 10, 13, 15, 20, 25, 30)
_THIRDS_SHORT = (
    *(1, 1.25, 1.6, 2, 2.5, 3, 4, 5, 6, 8, 10, 13, 15, 20, 25, 30, 40, 50, 60, 80, 100, 125, 160, 200),
    *(250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000),
    *(10000, 12800, 16000, 20000, 25600, 32000),
)
# Other names of third-stop times, by the number of thirds away from 1 s.
_THIRDS_ALSO = {-1: (1 / 1.3, 0.77), -2: (0.6, 0.62), -5: (0.3, 0.33), -44: (1 / 25000,)}
# Names that only the half-stop series has, by the number of halves away from 1 s.
_HALVES_LONG = {3: (3.0,), 1: (1.5,), -1: (0.7, 1 / 1.5)}
_HALVES_SHORT = {-11: 45, -13: 90, -15: 180, -17: 350, -19: 750, -21: 1500, -23: 3000, -25: 6000}

# f-numbers of the third-stop series from f/0.7 up; a third of a stop is a factor of 2^(1/6).
_THIRDS_F = (
    *(0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3.2, 3.5, 4, 4.5, 5, 5.6, 6.3, 7.1, 8),
    *(9, 10, 11, 13, 14, 16, 18, 20, 22, 25, 29, 32, 36, 40, 45, 51, 57, 64, 72, 80, 90),
)
_FIRST_F_THIRD = -3
# f-numbers that only the half-stop series has, by the number of halves (of a stop) away from f/1.
_HALVES_F = {
    3: (1.7,),
    5: (2.4,),
    7: (3.3, 3.4),
    9: (4.8,),
    11: (6.7,),
    13: (9.5,),
    17: (19.0,),
    19: (27.0,),
    21: (38.0,),
}

_Series = list[tuple[float, float]]  # (nominal, exact)


def _time_thirds() -> _Series:
    """Nominal and exact times of the third-stop series."""
    pairs = [(float(t), 2.0 ** (i / 3)) for i, t in enumerate(_THIRDS_LONG)]
    pairs += [(1.0 / t, 2.0 ** (-i / 3)) for i, t in enumerate(_THIRDS_SHORT)]
    return pairs + [(t, 2.0 ** (i / 3)) for i, names in _THIRDS_ALSO.items() for t in names]


_TIME_THIRDS = _time_thirds()
_TIME_HALVES: _Series = [
    *((t, 2.0 ** (i / 2)) for i, names in _HALVES_LONG.items() for t in names),
    *((1.0 / t, 2.0 ** (i / 2)) for i, t in _HALVES_SHORT.items()),
]
_F_THIRDS: _Series = [(float(n), 2.0 ** ((i + _FIRST_F_THIRD) / 6)) for i, n in enumerate(_THIRDS_F)]
_F_HALVES: _Series = [(n, 2.0 ** (i / 4)) for i, names in _HALVES_F.items() for n in names]


@lru_cache(maxsize=4096)  # a season has few of them
def snap_exposure_time(t_s: float) -> tuple[float, str]:
    """Exact exposure time behind a written one, and the series it was found in.

    Times over 30 s (bulb) and values off both series are kept.

    Parameters
    ----------
    t_s : as written [s]
        NaN, infinity and what is not above 0 are kept.

    Returns
    -------
    exact time [s], and `third`, `half` or `written` [-]

    Source
    ------
    Common practice, no source: which nominal number stands for which step, and how far one may lie off it.
    """
    if not isfinite(t_s) or t_s <= 0 or t_s > LONGEST_SERIES_TIME_S * (1 + NOMINAL_TIME_TOLERANCE):
        return t_s, WRITTEN
    return _snap(t_s, _TIME_THIRDS, _TIME_HALVES, NOMINAL_TIME_TOLERANCE)


@lru_cache(maxsize=4096)
def snap_f_number(n: float) -> tuple[float, str]:
    """Exact f-number behind a written one, and the series it was found in.

    Parameters
    ----------
    n : as written [1]
        NaN, infinity and what is not above 0 are kept, as are values off both series.

    Returns
    -------
    exact f-number [1], and `third`, `half` or `written` [-]

    Source
    ------
    Common practice, no source: which nominal number stands for which step, and how far one may lie off it.
    """
    if not isfinite(n) or n <= 0:
        return n, WRITTEN
    return _snap(n, _F_THIRDS, _F_HALVES, NOMINAL_F_TOLERANCE)


def _snap(value: float, thirds: _Series, halves: _Series, tolerance: float) -> tuple[float, str]:
    """The exact value of the first pair that a value fits, thirds before halves."""
    for basis, pairs in ((THIRD, thirds), (HALF, halves)):
        for nominal, exact in pairs:
            near_nominal = abs(value - nominal) <= tolerance * nominal
            if near_nominal or abs(value - exact) <= EXACT_TOLERANCE * exact:
                return exact, basis
    return value, WRITTEN


def ev100(f_number: Number, exposure_time_s: Number, iso: Number) -> Number:
    """Exposure value at ISO 100: log2(N^2 / t) - log2(ISO / 100).

    Parameters
    ----------
    f_number : above 0, any shape [1]
    exposure_time_s : above 0, any shape [s]
    iso : above 0, any shape [1]

    Returns
    -------
    EV; NaN where one of the three is NaN [stop]

    Source
    ------
    APEX, Ev = Av + Tv = Bv + Sv, counted at Sv = 5 (Kerr's paper on APEX; EXIF 2.2 annex C, from memory).
    """
    result: Number = np.log2(f_number * f_number / exposure_time_s) - np.log2(iso / 100)
    return result


def compensated_time_s(time_s: Number, stops: Number) -> Number:
    """Exposure time that makes up for a loss of light: t 2^stops.

    1/4 s and 10 stops make 256 s, 4 min 16 s; density 3.0 is 9.966 stops and makes 250 s, 4 min 10 s.

    Parameters
    ----------
    time_s : without the loss, any shape [s]
        NaN gives NaN.
    stops : lost, any shape; less than 0 shortens the time [stop]
        NaN gives NaN.

    Returns
    -------
    time with the loss [s]

    Source
    ------
    Definition of the stop: factor = 2^stops.
    """
    result: Number = time_s * 2.0**stops
    return result


def aperture_value(f_number: float) -> float:
    """APEX aperture value: Av = 2 log2 N.

    Parameters
    ----------
    f_number : above 0 [1]
        NaN gives NaN.

    Returns
    -------
    Av [stop]

    Source
    ------
    APEX: Kerr's paper on it; EXIF 2.2 annex C, quoted from memory.
    """
    return float(2 * np.log2(f_number))


def time_value(exposure_time_s: float) -> float:
    """APEX time value: Tv = -log2 t.

    Parameters
    ----------
    exposure_time_s : above 0 [s]
        NaN gives NaN.

    Returns
    -------
    Tv [stop]

    Source
    ------
    APEX: Kerr's paper on it; EXIF 2.2 annex C, quoted from memory.
    """
    return float(-np.log2(exposure_time_s))


def speed_value(iso: float) -> float:
    """APEX speed value: Sv = log2(ISO / 3.125), 5 at ISO 100.

    Parameters
    ----------
    iso : above 0 [1]
        NaN gives NaN.

    Returns
    -------
    Sv [stop]

    Source
    ------
    APEX: Kerr's paper on it; EXIF 2.2 annex C, quoted from memory.
    """
    return float(np.log2(iso / 3.125))


def f_number_from_aperture_value(av: float) -> float:
    """f-number of an APEX aperture value: N = 2^(Av / 2).

    Parameters
    ----------
    av : Av [stop]
        NaN gives NaN.

    Returns
    -------
    f-number [1]

    Source
    ------
    APEX: Kerr's paper on it; EXIF 2.2 annex C, quoted from memory.
    """
    return float(2.0 ** (av / 2))


def exposure_time_from_time_value(tv: float) -> float:
    """Exposure time of an APEX time value: t = 2^-Tv.

    Parameters
    ----------
    tv : Tv [stop]
        NaN gives NaN.

    Returns
    -------
    time [s]

    Source
    ------
    APEX: Kerr's paper on it; EXIF 2.2 annex C, quoted from memory.
    """
    return float(2.0**-tv)
