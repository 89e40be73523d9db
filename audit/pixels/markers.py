"""Frames taken only to mark a change: a lens cap, a hand or a label between two frames of one composition.

Photographers mark a change of filters so (common practice, no source). The tripod stays where it is: what was
photographed before and after is alike, and the frame between them is something else, or black.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audit.message.text import marked

BLACK_SHARE = 0.95
"""Of every third: nothing but a cap or a hand is so black."""
STEADY = 0.93
"""Likeness of two frames of one tripod position: 0.94 at least in painted scenes at another hour and
exposure; two photographs from the air, with another one between them, reach 0.8."""
UNLIKE = 0.5
"""Likeness of two compositions below which one of them shows something else."""
NEAR_MIN = 3.0
"""A marker stands so close to the frames before and after it, minutes between exposures."""


@dataclass(frozen=True)
class Glance:
    """What is looked at of one frame: when it began and ended, its fingerprint, its least black third."""

    start_min: float
    end_min: float
    fingerprint: NDArray[np.float64]
    black: float


def find_markers(glances: Sequence[Glance | None]) -> list[str]:
    """For each frame of one body, lens and focal length in order of time: why it is a marker, or "".

    None stands for a frame without pixels, which no frame is held against.
    """
    return [
        _marker(*(glances[i] if 0 <= i < len(glances) else None for i in (n - 1, n, n + 1)))
        for n in range(len(glances))
    ]


def _marker(before: Glance | None, one: Glance | None, after: Glance | None) -> str:
    if one is None:
        return ""
    if one.black >= BLACK_SHARE:
        return marked("the picture is black all over: a lens cap or a hand before the lens")
    if before is None or after is None:
        return ""
    near = one.start_min - before.end_min <= NEAR_MIN and after.start_min - one.end_min <= NEAR_MIN
    same = _likeness(before, after) >= STEADY
    other = one.fingerprint.any() and max(_likeness(one, before), _likeness(one, after)) < UNLIKE
    if near and same and other:
        return marked("something else between two frames of one composition: a hand or a label")
    return ""


def _likeness(a: Glance, b: Glance) -> float:
    return float(a.fingerprint @ b.fingerprint)
