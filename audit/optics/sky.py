"""The light that the sun's altitude leads to expect: EV at ISO 100, its slope, and how far both may be off.

By day a front-lit landscape: a surface that faces the sun. With the sun low and below the horizon, through
twilight into the night, that becomes the illuminance of the level ground. Weather is unknown, so that the
level is only a wide expectation; how fast it changes depends far less on the weather.

Illuminance in lux, altitudes in degrees without refraction (the sun's centre), slopes in stops per minute;
every error is a 95 % half width. All functions take numbers or arrays of one shape; NaN stays NaN.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from audit.optics.arrays import Reals

INCIDENT_C = 250.0
"""Calibration constant of an incident-light meter (ISO 2720 by way of published tables): E = C 2^EV / 100."""

# log10 of the lux on level ground under a clear sky, a cubic in altitude / 90 from each altitude upwards.
# Source: Explanatory Supplement to the Astronomical Almanac (Seidelmann 1992), ground illumination by the
# sun; the coefficients as Vallado, Fundamentals of Astrodynamics, table 5-1, prints them.
_FROM_DEG = np.array([-18.0, -12.0, -5.0, -0.8, 5.0, 20.0])
_CUBICS = np.array(
    [
        [13.84, 262.72, 1447.42, 2797.93],
        [2.70, 12.17, -431.69, -1899.83],
        [2.88, 21.81, -258.11, -858.36],
        [2.88, 22.26, -207.64, 1034.30],
        [3.05, 13.28, -45.98, 64.33],
        [3.74, 3.97, -4.07, 1.47],
    ]
)

STARLIGHT_LUX = 0.001
"""Stars and airglow without a moon, between 0.0001 (overcast) and 0.002 lux (published tables of lux)."""

# The sun's direct light: lux outside the atmosphere and extinction of clear air per air mass (IES recommended
# practice for daylight availability, 1984), air mass by Kasten and Young 1989. All from memory.
_OUTSIDE_LUX, _EXTINCTION = 127_500.0, 0.21
_SUNSET_DEG = -0.833  # the upper limb at the horizon, refraction in it: the usual definition of sunset

# How far the level may be off, by altitude: weather and what the picture shows by day (tables of exposure
# values run from 12 under heavy cloud to 16 on snow), a bright sky over dark ground at dusk, moon and lamps
# at night (a full moon is eight stops above starlight). Common practice, no source.
_LEVEL_AT_DEG, _LEVEL_ERR_STOPS = (-18.0, -12.0, -6.0, 5.0), (8.0, 6.0, 4.0, 3.0)

# The slope: a share of itself, and what thin clouds add in any minute. With a low sun the scene may lie in
# the shade, where the light falls far more slowly than the sun's own; where the moon or lamps may have taken
# over from the sky, it may not fall at all. Common practice, no source.
_SLOPE_AT_DEG, _SLOPE_SHARE = (-12.0, -7.0, -1.0, 2.0, 6.0, 12.0), (1.0, 0.25, 0.25, 0.8, 0.8, 0.25)
_CLOUDS_STOPS_PER_MIN = 0.03

_HALF_STEP_DEG = 0.5  # wide enough that the joints of the cubics (0.015 stops) do not show in the slope


def horizontal_lux(altitude_deg: ArrayLike) -> Reals:
    """Illuminance of level ground under a clear sky without a moon.

    log10 of the lux is a cubic in altitude / 90, one for each range of altitudes; starlight is added. Below
    -18 degrees it no longer falls.

    Parameters
    ----------
    altitude_deg : of the sun's centre, without refraction, -90 to 90, any shape [deg]
        NaN gives NaN.

    Returns
    -------
    illuminance, of the shape of `altitude_deg` [lux]

    Source
    ------
    Explanatory Supplement to the Astronomical Almanac (Seidelmann 1992), ground illumination by the sun, as
    Vallado, Fundamentals of Astrodynamics, table 5-1, prints it; beside the twilights of the Glossary of
    Meteorology (American Meteorological Society). Starlight: published tables of lux.
    """
    altitude = np.asarray(altitude_deg, dtype=float)
    x = np.clip(altitude, -18.0, 90.0) / 90.0
    part = np.clip(np.searchsorted(_FROM_DEG, np.nan_to_num(altitude), side="right") - 1, 0, None)
    c0, c1, c2, c3 = np.moveaxis(_CUBICS[part], -1, 0)
    lux: Reals = 10.0 ** (c0 + x * (c1 + x * (c2 + x * c3))) + STARLIGHT_LUX
    return lux


def direct_lux(altitude_deg: ArrayLike) -> Reals:
    """Illuminance by the sun's disc alone of a surface that faces it, in clear air.

    127,500 exp(-0.21 m), with m = 1 / (sin h + 0.50572 (h + 6.07995)^-1.6364) the air mass at h degrees.

    Parameters
    ----------
    altitude_deg : of the sun's centre, without refraction, -90 to 90, any shape [deg]
        NaN gives NaN.

    Returns
    -------
    illuminance, of the shape of `altitude_deg`; 0 after sunset [lux]

    Source
    ------
    IES recommended practice for daylight availability (1984); air mass: Kasten and Young 1989; from memory.
    """
    altitude = np.asarray(altitude_deg, dtype=float)
    up = np.maximum(altitude, _SUNSET_DEG)
    air_mass = 1.0 / (np.sin(np.radians(up)) + 0.50572 * (up + 6.07995) ** -1.6364)
    lux = _OUTSIDE_LUX * np.exp(-_EXTINCTION * air_mass)
    return np.where(altitude <= _SUNSET_DEG, 0.0, lux)[()]


def front_lit_lux(altitude_deg: ArrayLike) -> Reals:
    """Illuminance of a surface that faces the sun; after sunset that of level ground.

    Level ground gets the sun by the sine of its altitude, the surface gets all of it, and both the same sky.

    Parameters
    ----------
    altitude_deg : of the sun's centre, without refraction, -90 to 90, any shape [deg]
        NaN gives NaN.

    Returns
    -------
    illuminance, of the shape of `altitude_deg` [lux]

    Source
    ------
    Geometry, on `horizontal_lux` and `direct_lux`.
    """
    sine = np.sin(np.radians(np.asarray(altitude_deg, dtype=float)))
    return horizontal_lux(altitude_deg) + direct_lux(altitude_deg) * (1.0 - sine)


def ev100_from_lux(lux: ArrayLike) -> Reals:
    """Exposure value at ISO 100 of what an illuminance lights: log2(E / 2.5), for C = 250.

    Parameters
    ----------
    lux : 0 or more, any shape [lux]
        NaN gives NaN, 0 gives minus infinity.

    Returns
    -------
    EV, of the shape of `lux` [stop]

    Source
    ------
    ISO 2720 by way of published tables: E = C 2^EV / 100, C = 250 for an incident-light meter.
    """
    return np.log2(np.asarray(lux, dtype=float) * 100.0 / INCIDENT_C)[()]


def expected_ev100(altitude_deg: ArrayLike) -> Reals:
    """Expected EV100 of a landscape without filters under a clear sky.

    Parameters
    ----------
    altitude_deg : of the sun's centre, without refraction, -90 to 90, any shape [deg]
        NaN gives NaN.

    Returns
    -------
    EV, of the shape of `altitude_deg` [stop]

    Source
    ------
    That of `front_lit_lux` and `ev100_from_lux`; in full sun beside EV 15 of ANSI PH2.7 (1973, 1986), by
    way of an encyclopedia's table.
    """
    return ev100_from_lux(front_lit_lux(altitude_deg))


def expected_slope(altitude_deg: ArrayLike, rate_deg_per_min: ArrayLike) -> Reals:
    """How fast the expected EV100 changes, from the sun's altitude and its rate.

    The difference over one degree of altitude: the joints of the cubics do not show in it.

    Parameters
    ----------
    altitude_deg : of the sun's centre, without refraction, -90 to 90, any shape [deg]
    rate_deg_per_min : of the altitude, any shape [deg/min]

    Returns
    -------
    slope; NaN where either is NaN [stop/min]

    Source
    ------
    That of `expected_ev100`.
    """
    altitude = np.asarray(altitude_deg, dtype=float)
    step = expected_ev100(altitude + _HALF_STEP_DEG) - expected_ev100(altitude - _HALF_STEP_DEG)
    return (step / (2 * _HALF_STEP_DEG) * np.asarray(rate_deg_per_min, dtype=float))[()]


def level_err_stops(altitude_deg: ArrayLike) -> Reals:
    """How far the light of a scene may lie from `expected_ev100` (95 %): 3 stops by day, 8 at night.

    Parameters
    ----------
    altitude_deg : of the sun's centre, without refraction, any shape [deg]
        NaN gives NaN.

    Returns
    -------
    half width of the 95 % range, of the shape of `altitude_deg` [stop]

    Source
    ------
    Common practice, no source.
    """
    return np.interp(np.asarray(altitude_deg, dtype=float), _LEVEL_AT_DEG, _LEVEL_ERR_STOPS)[()]


def slope_err(altitude_deg: ArrayLike, slope_stops_per_min: ArrayLike) -> Reals:
    """How far the change of light may lie from `expected_slope` (95 %): a share of it, and thin clouds.

    Parameters
    ----------
    altitude_deg : of the sun's centre, without refraction, any shape [deg]
    slope_stops_per_min : expected, any shape [stop/min]

    Returns
    -------
    half width of the 95 % range; NaN where either is NaN [stop/min]

    Source
    ------
    Common practice, no source.
    """
    share = np.interp(np.asarray(altitude_deg, dtype=float), _SLOPE_AT_DEG, _SLOPE_SHARE)
    return (share * np.abs(np.asarray(slope_stops_per_min, dtype=float)) + _CLOUDS_STOPS_PER_MIN)[()]


def mean_over_exposure(
    ev100: ArrayLike, slope_stops_per_min: ArrayLike, exposure_min: ArrayLike
) -> tuple[Reals, Reals]:
    """EV100 of the mean luminance over an exposure, and how far that may be off.

    `ev100` holds at the time stamp, which is the start or the end of the exposure. The light goes on
    falling (or rising) evenly in stops; an exposure adds up luminance, so that its effective value is log2
    of the mean luminance, above the mean of the EV. Start and end differ by x = slope times exposure: the
    value lies in the middle of the two, x / 2 to either side.

    Parameters
    ----------
    ev100 : at the time stamp, any shape [stop]
    slope_stops_per_min : of the light, any shape [stop/min]
    exposure_min : length of the exposure, any shape [min]

    Returns
    -------
    EV, and half the distance of the two; NaN where what they need is NaN [stop]

    Source
    ------
    Own derivation: the mean of 2^(s t) from 0 to x is 2^(x/2) sinh(u) / u, u = x ln(2) / 2.
    """
    x = np.asarray(slope_stops_per_min, dtype=float) * np.asarray(exposure_min, dtype=float)
    half = np.maximum(np.abs(x) * np.log(2.0) / 2.0, 1e-9)
    # mean of 2^(s t) from 0 to x is 2^(x/2) sinh(half) / half; the sinh is written so that it cannot overflow
    rise = (half + np.log1p(-np.exp(-2.0 * half)) - np.log(2.0 * half)) / np.log(2.0)
    return (np.asarray(ev100, dtype=float) + rise)[()], (np.abs(x) / 2.0)[()]
