"""How sure an estimate may be called: numbers only, no word decides them."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.exposure.daylight import BRIGHTEST_EV100
from audit.exposure.observations import Units
from audit.exposure.states import States
from audit.optics.arrays import Floats

SURE, LIKELY = 0.99, 0.85
"""Stated chance from which an estimate is called sure, likely."""
NONE_ODDS = 2.0
"""By such odds no neutral is likelier: the chain takes too much of the light's moves for filters."""
DOUBT_SLOPE, DOUBT_NONE, DOUBT_SOME, DOUBT_REST = 0.9, 0.25, 0.5, 0.7
"""The chain's log odds, times the first and less one of the others, are as right as they say: no neutral,
some, and besides on compositions left out by a photographer who declared others of the run. Chosen, as the
odds above, on the tuning half of benchmarks/world and on trips 20,000 to 20,039 of tests/exposure."""
WITHIN_STOPS = 0.5
"""An estimate is right within half a stop."""
SHOWN = 0.999
"""No chance is stated higher: the model itself may be wrong."""
LEAST_ERR_STOPS = 0.1
STEP_STOPS = 1.5
"""A step of ev100 from which something may be learned about filters."""
JUMP_STOPS, JUMP_NEAR_STOPS = 3.0, 1.0
"""A step so large is told where nothing explains it; what comes so near explains it."""
SCENE_HOLDS_MIN, LIGHT_STOPS_PER_MIN = 5.0, 0.5
"""So long a scene is held to be the same, and so much may its light have moved (assumed)."""
NO_STEP, NO_ANCHOR, NO_REASON = 0.75, 0.98, 0.8
"""Highest chance stated where a run holds no such step and nothing else that tells; where nothing anchors its
level; after a jump that nothing explains."""


def doubted(chance: Floats, doubt: Floats) -> Floats:
    """The chance that is stated for what the chain gives."""
    some = np.clip(chance, 1e-6, 1 - 1e-6)
    odds = DOUBT_SLOPE * np.log(some / (1 - some)) - doubt
    return np.minimum(1 / (1 + np.exp(-odds)), SHOWN)


def left_out(units: Units) -> NDArray[np.bool_]:
    """(U) whether the photographer declared other frames of the run, and none of this composition."""
    declared = units.declared >= 0
    return _any_in(units.new_run, declared) & ~_any_in(units.new_setup, declared)


def untold(units: Units, states: States) -> NDArray[np.bool_]:
    """(U) whether nothing in the unit's run tells a filter from darker light: only habit speaks then.

    A run without a declared frame or a sky whose ev100 makes no step; a unit too bright for any neutral tells
    nonetheless.
    """
    step = np.abs(np.diff(units.value, prepend=np.nan)) >= STEP_STOPS
    telling = (step & ~units.new_run) | (units.declared >= 0) | ~np.isnan(units.sky)
    return ~_any_in(units.new_run, telling) & ~_too_bright(units, states)


def anchored(units: Units, states: States) -> NDArray[np.bool_]:
    """(U) whether anything holds the level of the unit's run: a declaration, the sun, light without room
    for a filter. Without it a whole run may be read one filter too light or too dark.
    """
    held = (units.declared >= 0) | ~np.isnan(units.sky) | _too_bright(units, states)
    return _any_in(units.new_run, held)


def _any_in(begins: NDArray[np.bool_], flag: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(U) whether any unit of the same run, or composition, is flagged; `begins` at its first unit."""
    number = np.cumsum(begins) - begins[0]
    hits = np.bincount(number, weights=flag.astype(float))
    return np.asarray(hits[number] > 0, dtype=bool)


def _too_bright(units: Units, states: States) -> NDArray[np.bool_]:
    """(U) whether light through the weakest neutral would be brighter than sunlit snow."""
    weakest = min((c.stops for c in states.classes if c.stops > 0), default=0.0)
    return np.asarray(units.value + weakest > BRIGHTEST_EV100, dtype=bool)


def unexplained(units: Units, stops: Floats, states: States) -> Floats:
    """(U) stops that went on (+) or came off (-) while the scene held, and that nothing in the kit takes.

    `stops` are those estimated, so that only a change from what was on counts; 0 where there is no such jump.
    """
    extra_stops = max((most for _, most, _ in states.extra_ranges), default=0.0)
    moved = -np.diff(units.value, prepend=np.nan)
    held = ~units.new_setup & (units.between_s < 60 * SCENE_HOLDS_MIN)
    by_minutes = LIGHT_STOPS_PER_MIN * units.between_s / 60
    before = np.append(np.nan, stops[:-1])
    jump = held & (np.abs(moved) >= JUMP_STOPS + by_minutes)
    for reached in np.unique(states.stops):
        short = np.abs(reached - before - moved) - JUMP_NEAR_STOPS - by_minutes - extra_stops
        jump &= short > 0
    return np.where(jump & ~np.isnan(moved), moved, 0.0)


def most_certain(units: Units, states: States, jumps: Floats) -> Floats:
    """(U) the highest chance that may be stated; after a jump (`unexplained`) until its composition ends."""
    after = pd.Series(jumps != 0).groupby(np.cumsum(units.new_setup)).cummax().to_numpy(dtype=bool)
    most = np.where(anchored(units, states), SHOWN, NO_ANCHOR)
    most = np.where(after, np.minimum(most, NO_REASON), most)
    return np.where(untold(units, states), np.minimum(most, NO_STEP), most)
