"""The widest clear focal length of a rig at one f-number, with its band."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from audit.corners.answer import Widest
from audit.corners.predict import End, Geometry, edge_loss
from audit.corners.prediction import CLEAR_STOPS
from audit.declare.rig import Rig
from audit.kit.kit import Lens

STEP = 1.2
"""Steps in which the first clear focal length is looked for; the step before it is then halved."""
TOLERANCE = 0.002
"""Relative; far below what the band leaves open."""
FLOOR, START, TOP = 0.4, 1.0, 12.0
"""Focal lengths looked at, in half diagonals of the picture: 68, 45 and 5 degrees in the corner."""

Losses = Callable[[float], float]


def widest_clear(
    rig: Rig, geometry_at: Callable[[float], Geometry], half_diagonal_mm: float, lens: Lens | None
) -> Widest:
    """Shortest focal length from which on the rig takes less than 0.1 stop anywhere on the picture's edge.

    `geometry_at` gives the frame at a focal length. The f-number stays, so the pupil grows with it; the
    lens' own depth at each focal length counts. Each end of the band has its own answer.
    """
    lost = _losses(rig, geometry_at, lens)
    best, middle, worst = (_shortest(lost(end), half_diagonal_mm) for end in ("best", "middle", "worst"))
    return Widest(best, middle, worst, FLOOR * half_diagonal_mm)


def widest_clear_middle_mm(
    rig: Rig, geometry_at: Callable[[float], Geometry], half_diagonal_mm: float, lens: Lens | None
) -> float:
    """The same in the middle of the band alone."""
    return _shortest(_losses(rig, geometry_at, lens)("middle"), half_diagonal_mm)


def _losses(rig: Rig, geometry_at: Callable[[float], Geometry], lens: Lens | None) -> Callable[[End], Losses]:
    return lambda end: lambda focal_length_mm: edge_loss(rig, geometry_at(focal_length_mm), lens, end)


def _shortest(lost: Losses, half_diagonal_mm: float) -> float:
    """The floor where even that is clear; inf where no focal length is."""
    floor, clear = FLOOR * half_diagonal_mm, START * half_diagonal_mm
    while lost(clear) >= CLEAR_STOPS:
        clear *= STEP
        if clear > TOP * half_diagonal_mm:
            return float("inf")
    while (dark := max(clear / STEP, floor)) < clear and lost(dark) < CLEAR_STOPS:
        clear = dark
    return _between(lost, dark, clear)


def _between(lost: Losses, dark: float, clear: float) -> float:
    while clear / dark > 1 + TOLERANCE:
        middle = float(np.sqrt(dark * clear))
        if lost(middle) >= CLEAR_STOPS:
            dark = middle
        else:
            clear = middle
    return clear
