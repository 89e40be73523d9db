"""Whether exposures lie on an evenly stepped grid, as a hand or a camera turns them: numbers alone."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from audit.optics.arrays import Floats

SAME_STOPS = 0.12
"""Exposures closer than this are the same: less than a fifth of a stop, more than times are rounded by."""
STEP_STOPS = (0.15, 3.15)
"""From a fifth of a stop to three, with what written values are rounded by."""
EVEN_STOPS, EVEN_SHARE = 0.2, 0.3
"""A step is even where it departs from the usual one by less than both this and this share of it."""
LEAST = 3
"""Different exposures of the smallest series."""
MANY = 4
"""So many levels show a grid in spite of the dial's rounding."""
ODD_EACH = 5
"""In a run by hand one uneven step for so many frames: the dial's last click, a step taken short."""


class Steps(NamedTuple):
    """Distinct exposures of a run: their number, the usual and the widest step, how many steps are not
    the usual one, and how many of these are twice it (one left out)."""

    levels: int
    usual: float
    widest: float
    odd: int
    doubled: int

    @property
    def within(self) -> bool:
        """Whether no step is too small or too wide, a doubled one counted as two."""
        widest = self.widest / 2 if self.odd == self.doubled == 1 else self.widest
        return STEP_STOPS[0] <= self.usual and widest <= STEP_STOPS[1]

    @property
    def even(self) -> bool:
        """Whether all are alike, or all but one left out among four exposures or more."""
        return self.odd == 0 or (self.odd == self.doubled == 1 and self.levels > 3)


def distinct(values: Floats) -> Floats:
    """The values in order of size, one of each that are the same."""
    ordered = np.sort(values)
    return ordered[np.append(True, np.diff(ordered) > SAME_STOPS)]


def steps_of(values: Floats) -> Steps:
    """How a run of exposures is stepped; with fewer than two levels there is no step."""
    levels = distinct(values)
    if len(levels) < 2:
        return Steps(len(levels), 0.0, 0.0, 0, 0)
    steps = np.diff(levels)
    usual = float(np.median(steps)) if len(steps) > 2 else float(steps.min())
    if len(levels) >= MANY and _on_grid(levels, float(steps.mean())):
        return Steps(len(levels), float(steps.mean()), float(steps.max()), 0, 0)
    near = min(EVEN_STOPS, EVEN_SHARE * usual)
    off = np.abs(steps - usual) > near
    doubled = off & (np.abs(steps - 2 * usual) <= near)
    return Steps(len(levels), usual, float(steps.max()), int(off.sum()), int(doubled.sum()))


def _on_grid(levels: Floats, step: float) -> bool:
    """Whether levels lie evenly but for the dial's clicks: in thirds 1.5 stops are 4 of them or 5."""
    place = np.arange(len(levels))
    off = levels - np.polyval(np.polyfit(place, levels, 1), place)
    return bool(np.abs(off).max() <= min(EVEN_STOPS, EVEN_SHARE * step))


def repeats(values: Floats) -> int:
    """How many frames have an exposure that an earlier one has."""
    return len(values) - len(distinct(values))


def repeats_allowed(size: int) -> int:
    """How many frames of so many may repeat an earlier one."""
    return 1 + size // 6


def likely_sizes(values: list[float]) -> Iterator[int]:
    """How many of the values from the front may be a series, looked at cheaply and roughly.

    Their steps are more or less alike, or go one way; where too much was repeated it ends.
    """
    levels: list[float] = []
    again, up, down, before = 0, True, True, values[0]
    for size, value in enumerate(values, 1):
        place = bisect_left(levels, value - SAME_STOPS)
        if place < len(levels) and levels[place] <= value + SAME_STOPS:
            again += 1
            if again > repeats_allowed(size):
                return
        else:
            levels.insert(place, value)
        up, down, before = up and value >= before - SAME_STOPS, down and value <= before + SAME_STOPS, value
        if len(levels) >= LEAST and (up or down or _unlike(levels) <= 1 + size // ODD_EACH):
            yield size


def _unlike(levels: list[float]) -> int:
    """How many steps between sorted levels are far from the usual one."""
    steps = [high - low for low, high in pairwise(levels)]
    usual = sorted(steps)[len(steps) // 2]
    near = 2 * min(EVEN_STOPS, EVEN_SHARE * usual)
    return sum(abs(step - usual) > near for step in steps)


def one_way(values: Floats) -> bool:
    """Whether the exposure was turned in one direction throughout, frames repeated at once left aside."""
    moves = np.diff(values)
    moves = moves[np.abs(moves) > SAME_STOPS]
    return bool((moves > 0).all() or (moves < 0).all())
