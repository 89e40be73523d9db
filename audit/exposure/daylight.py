"""What light a scene may have where nothing is known of the light before: by the sun, else by the clock.

Every number is an assumption (common practice, no source): how far weather, shade and framing take a
landscape from the clear sky's light. Chosen on the tuning half of benchmarks/world and on trips 20,000 to
20,039 of tests/exposure, which agree that by day the metered landscape is 2.5 stops below the sunlit one.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.optics.arrays import Floats
from audit.optics.sky import expected_ev100

STEP_STOPS = 0.5
LEVELS = np.arange(-14.0, 14.0 + STEP_STOPS / 2, STEP_STOPS)
"""Light levels about `MIDDLE_EV100`, or about the sky's expected light where that is known."""
MIDDLE_EV100 = 4.5
DARKEST_EV100 = -8.0
BRIGHTEST_EV100 = 16.75
"""Sunlit snow."""

SKY_EV100 = np.arange(-8.0, 18.0)
"""Expected light by which the rows of `fresh_light` begin."""
_AT_EV100 = (-6.0, 0.0, 5.0, 10.0, 13.0)
_USUAL_STOPS, _SPREAD_STOPS = (4.0, 0.8, -0.7, -1.6, -2.2), (4.0, 2.2, 1.5, 1.5, 1.5)
"""At night moon and lamps give more than the sky does, by day weather and shade take from it."""
_DARKER = (0.2, 1.5, 1.7)
"""Share of scenes in deep shade or under heavy cloud, how much darker, and how many times as wide."""
_ANYTHING = 0.03
_ABOVE_AT_EV100, _ABOVE_STOPS = (0.0, 3.0, 9.0, 12.0), (20.0, 6.0, 3.0, 2.2)
"""By how much a scene may be brighter than the sky leads to expect: glitter, snow, a lamp."""

MONTHS, HOURS = 12, 24
_CLOCK_WRONG = 0.15
"""Share of clocks that tell nothing of the time of day: never set, or left at home's time."""
_LATITUDES_DEG = (-45.0, -30.0, 25.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0, 65.0)
_CLOCK_OFF_H = np.arange(-2.0, 2.1, 0.25)
"""Sun time against a clock's: within the zone, with and without summer time."""
_LEAST = 1e-4
_FLAT_AT_EV100 = (DARKEST_EV100 - 0.5, DARKEST_EV100, 4.0, 15.5, 17.5)
_FLAT = (0.0, 0.15, 1.0, 1.0, 0.2)


@cache
def fresh_light() -> NDArray[np.float32]:
    """(K, G) chance of each of `LEVELS`: K is `SKY_EV100`, each hour of each month, and no time at all."""
    ev100 = LEVELS + MIDDLE_EV100
    flat = np.interp(ev100, _FLAT_AT_EV100, _FLAT)
    flat /= flat.sum()
    skies = np.array([_under(sky, ev100) for sky in SKY_EV100])
    clocks = (1 - _CLOCK_WRONG) * _by_clock() @ skies + _CLOCK_WRONG * flat
    rows = np.array([*(_under(sky, sky + LEVELS) for sky in SKY_EV100), *clocks, flat]) + _LEAST
    return (rows / rows.sum(axis=1, keepdims=True)).astype(np.float32)


def fresh_row(sky_ev100: Floats, second: Floats) -> NDArray[np.int64]:
    """Row of `fresh_light` for each unit; NaN where the sky's light or the time [s from 1970] is unknown."""
    near = np.clip(np.rint(np.nan_to_num(sky_ev100) - SKY_EV100[0]), 0, len(SKY_EV100) - 1)
    moment = pd.to_datetime(np.nan_to_num(second), unit="s")
    clock = len(SKY_EV100) + (moment.month.to_numpy() - 1) * HOURS + moment.hour.to_numpy()
    clock = np.where(np.isnan(second), len(SKY_EV100) + MONTHS * HOURS, clock)
    return np.where(np.isnan(sky_ev100), clock, near).astype(np.int64)


def brightest(sky_ev100: Floats) -> Floats:
    """The most light that there may be, EV100: sunlit snow, or some stops above what the sky gives."""
    above = np.interp(np.nan_to_num(sky_ev100), _ABOVE_AT_EV100, _ABOVE_STOPS)
    most = np.minimum(np.nan_to_num(sky_ev100) + above, BRIGHTEST_EV100)
    return np.where(np.isnan(sky_ev100), BRIGHTEST_EV100, most)


def normal(x: Floats, sd: float) -> Floats:
    """Density of a normal distribution about 0."""
    value: Floats = np.exp(-0.5 * (x / sd) ** 2) / (sd * np.sqrt(2 * np.pi))
    return value


def _under(sky_ev100: float, ev100: Floats) -> Floats:
    """Chance of each light under a clear sky that gives so much."""
    usual = float(np.interp(sky_ev100, _AT_EV100, _USUAL_STOPS))
    sd = float(np.interp(sky_ev100, _AT_EV100, _SPREAD_STOPS))
    share, darker, wider = _DARKER
    off = ev100 - sky_ev100 - usual
    row = (1 - share - _ANYTHING) * normal(off, sd) + share * normal(off + darker, wider * sd)
    real = (ev100 > DARKEST_EV100) & (ev100 < BRIGHTEST_EV100 + STEP_STOPS)
    out: Floats = row * STEP_STOPS + _ANYTHING * real / real.sum()
    return out / out.sum()


def _by_clock() -> Floats:
    """(months x hours, S) share of each of `SKY_EV100` by the clock, wherever on either half of the world."""
    month, hour = np.divmod(np.arange(MONTHS * HOURS), HOURS)
    north = np.radians(_LATITUDES_DEG)[:, None]
    sun = np.radians(23.44 * np.sin(2 * np.pi * (month + 0.5 - 2.7) / MONTHS))[:, None, None]  # declination
    angle = np.radians(15 * (hour[:, None, None] + 0.5 + _CLOCK_OFF_H - 12))
    sine = np.sin(north) * np.sin(sun) + np.cos(north) * np.cos(sun) * np.cos(angle)
    sky = np.clip(expected_ev100(np.degrees(np.arcsin(sine))), SKY_EV100[0], SKY_EV100[-1])
    at = np.rint(sky - SKY_EV100[0]).astype(int).reshape(len(month), -1)
    return np.array([np.bincount(row, minlength=len(SKY_EV100)) / len(row) for row in at])
