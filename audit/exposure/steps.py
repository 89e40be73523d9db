"""Whether exposures lie on an evenly stepped grid, as a hand or a camera turns them: numbers alone."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from audit.optics.arrays import Floats

SAME_STOPS = 0.12
"""Exposures closer than this are one and the same: less than a fifth of a stop, more than times are rounded by."""
STEP_STOPS = (0.15, 3.15)
"""From a fifth of a stop to three, with what written values are rounded by."""
EVEN_STOPS, EVEN_SHARE = 0.2, 0.3
"""A step is even where it departs from the usual one by less than both this and this share of it."""
ODD_EACH = 5
"""In a run by hand one uneven step for so many frames: the dial's last click, a step taken short."""


class Steps(NamedTuple):
    """Distinct exposures of a run: their number, the usual step, how many steps depart from it, how many of these
    are twice it (one left out), and the widest."""

    levels: int
    usual: float
    odd: int
    doubled: int
    widest: float


def distinct(values: Floats) -> Floats:
    """The values in order of size, one of each that are the same."""
    ordered = np.sort(values)
    return ordered[np.append(True, np.diff(ordered) > SAME_STOPS)]


def steps_of(values: Floats) -> Steps:
    """How a run of exposures is stepped; with fewer than two levels there is no step."""
    levels = distinct(values)
    if len(levels) < 2:
        return Steps(len(levels), 0.0, 0, 0, 0.0)
    steps = np.diff(levels)
    usual = float(np.median(steps)) if len(steps) > 2 else float(steps.min())
    near = min(EVEN_STOPS, EVEN_SHARE * usual)
    off = np.abs(steps - usual) > near
    doubled = off & (np.abs(steps - 2 * usual) <= near)
    return Steps(len(levels), usual, int(off.sum()), int(doubled.sum()), float(steps.max()))


def repeats(values: Floats) -> int:
    """How many frames have an exposure that an earlier one has."""
    return len(values) - len(distinct(values))


def one_way(values: Floats) -> bool:
    """Whether the exposure was turned in one direction throughout, frames repeated at once left aside."""
    moves = np.diff(values)
    moves = moves[np.abs(moves) > SAME_STOPS]
    return bool((moves > 0).all() or (moves < 0).all())
