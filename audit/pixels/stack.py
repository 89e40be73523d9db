"""Corner loss over many compositions taken with one rig, where no single picture could show it.

In each corner: corner less the field beside it along either edge, plus the field inside (a double
difference), so that a horizon, a bright side or falloff that goes with the square of the image height cancel.
The median over all corners of all different compositions is what a rig in front leaves. Cuts of the top or
bottom edge alone, and of two corners alone, cancel too or are outvoted: they are not seen.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from audit.declare.rig import WHOLLY_KNOWN
from audit.message.text import figure, marked, plural, say
from audit.optics.arrays import Floats
from audit.optics.response import BRIGHTEST, DARKEST, GENERAL, Curve, light_stops
from audit.pixels.compositions import Outline, distinct, outline_of
from audit.pixels.sketch import Codes, Sketch

SAME = ("mount", "model", "lens", "focal_length_mm", "f_number_exact")


@dataclass
class Stacks:
    """Collects a few numbers of each frame, so that no picture has to be kept."""

    _contrasts: dict[str, list[Floats]] = field(default_factory=lambda: defaultdict(list))
    _outlines: dict[str, list[Outline]] = field(default_factory=lambda: defaultdict(list))
    _f_numbers: dict[str, float] = field(default_factory=dict)
    _names: dict[tuple[Any, ...], str] = field(default_factory=dict)
    members: dict[object, str] = field(default_factory=dict)

    def add(self, label: object, row: Mapping[str, Any], sketch: Sketch, curve: Curve) -> None:
        """Takes a frame in, unless its rig is not known or a filter is on that is uneven itself."""
        key = tuple(None if pd.isna(row[name]) else row[name] for name in SAME)
        if row["declaration_source"] != "photographer" or row["declaration"] not in WHOLLY_KNOWN:
            return
        if None in key[3:]:
            return
        name = self._names.setdefault(key, row["frame"])
        self.members[label] = name
        self._contrasts[name].append(corner_contrasts(sketch.grey, curve))
        self._outlines[name].append(outline_of(sketch.grey))
        self._f_numbers[name] = float(row["f_number_exact"])

    def results(self) -> dict[str, StackLoss]:
        """What each group shows; compositions that repeat count once."""
        found = {}
        for name, contrasts in self._contrasts.items():
            once = distinct(self._outlines[name])
            own = lens_stops(self._f_numbers[name])
            found[name] = stack_loss(np.array([contrasts[i] for i in once]).reshape(-1, 4), own)
        return found


BOX, AWAY = 0.06, 0.17
"""Side of the fields that are compared, and how far apart they lie, of the picture's width and height."""
MOST_WHITE = 0.5
"""Share of white pixels above which a field says nothing."""

LEAST_COUNT = 3
COUNTS = (3, 5, 8, 12, 20)
CHANCE_STOPS = (0.93, 0.41, 0.36, 0.27, 0.21)
"""What 99 of 100 sets of as many different photographs without a rig stay below: one half (21)
of the open photographs from the ground, drawn with replacement. The other half gave 0 to 1 % false alarms;
the fields were chosen on both (`benchmarks/corner_pixels.py` measures it again)."""
LENS_READS = 0.24
"""Of what a lens itself loses in its corners, with the sixth power of the image height (computed for 4:3; for
3:2 it is 0.22)."""
LEAST_LENS_STOPS = 0.25
"""Never less than this, about what a lens that loses 1 stop reads."""
WIDE_OPEN_STOPS, STOPPED_DOWN_F, FALLS_BY = 3.0, 8.0, 2 / 3
"""What a lens may lose by itself: 1 stop from f/8 on, so much more for each stop that it is opened, 3 at
most, as fast wide lenses do wide open (common practice, no source)."""
CUT_READS = 0.67
"""Of what a cut as in POWER takes in the extreme corner (computed for 3:2)."""
POWER = (
    (0.5, (0.00, 0.01, 0.18, 0.51, 0.49)),
    (1.0, (0.00, 0.89, 0.98, 1.00, 1.00)),
    (2.0, (0.85, 0.99, 1.00, 1.00, 1.00)),
    (4.0, (0.98, 1.00, 1.00, 1.00, 1.00)),
)
"""Share of sets that show a loss of so many stops in the extreme corner, smooth from 0.82 of the half
diagonal on, by COUNTS: the other half of those photographs (20, so that sets of 8 and more share most) or
200 painted scenes, whichever shows less."""
SHOWN = 0.9


@dataclass(frozen=True)
class StackLoss:
    """What `count` different compositions show: stops by which corners are darker than the field around them.

    `corners` are medians of the top left, top right, bottom left and bottom right one, as stored; `words` say
    what so many compositions can show, or why they show nothing (then the numbers are NaN).
    """

    count: int
    stops: float
    corners: tuple[float, float, float, float]
    threshold_stops: float
    words: str

    @property
    def seen(self) -> bool:
        """Whether the corners are darker than chance explains."""
        return bool(self.stops > self.threshold_stops)


def corner_contrasts(grey: Codes, curve: Curve = GENERAL) -> Floats:
    """Stops by which each corner is darker than its surroundings make one expect, (4,), NaN where white.

    Top left, top right, bottom left, bottom right, as stored. Black counts as the darkest code that is known.
    """
    light = light_stops(np.clip(grey, DARKEST, BRIGHTEST), curve)
    light[grey > BRIGHTEST] = np.nan
    turned = (light, light[:, ::-1], light[::-1], light[::-1, ::-1])
    return np.array([_first_corner(one) for one in turned])


def _first_corner(light: Floats) -> float:
    """The double difference at the top left."""
    rows, columns = light.shape
    high, wide = max(1, round(BOX * rows)), max(1, round(BOX * columns))
    below, beside = round(AWAY * rows), round(AWAY * columns)
    corner, edge, side, inner = (
        _median(light[y : y + high, x : x + wide]) for y in (0, below) for x in (0, beside)
    )
    return edge + side - corner - inner


def _median(field: Floats) -> float:
    known = field[np.isfinite(field)]
    return float(np.median(known)) if known.size > (1 - MOST_WHITE) * field.size else float("nan")


def lens_stops(f_number: float) -> float:
    """What the fall-off of the lens itself may read as at an f-number, in stops."""
    opened = max(0.0, 2 * math.log2(STOPPED_DOWN_F / f_number))
    return max(LEAST_LENS_STOPS, LENS_READS * min(WIDE_OPEN_STOPS, 1 + FALLS_BY * opened))


def stack_loss(contrasts: Floats, lens: float = LEAST_LENS_STOPS) -> StackLoss:
    """What `corner_contrasts` of different compositions, (n, 4), show together.

    `lens` is what the lens by itself may read as, in stops.
    """
    known = contrasts[np.isfinite(contrasts).any(axis=1)]
    count = len(known)
    if count < LEAST_COUNT:
        words = plural(
            count,
            "{n} composition: {least} different ones are needed",
            "{n} compositions: {least} different ones are needed",
            least=LEAST_COUNT,
        )
        nan = float("nan")
        return StackLoss(count, nan, (nan, nan, nan, nan), nan, words)
    a, b, c, d = (_middle(column) for column in known.T)
    return StackLoss(count, _middle(known), (a, b, c, d), threshold(count, lens), _words(count, lens))


def threshold(count: int, lens: float = LEAST_LENS_STOPS) -> float:
    """Stops that so many compositions must exceed; beyond the last of COUNTS it stays as it is."""
    return max(lens, _chance(count))


def _chance(count: int) -> float:
    return float(np.interp(np.log(count), np.log(COUNTS), CHANCE_STOPS))


def _middle(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else float("nan")


def _words(count: int, lens: float) -> str:
    """The power in words, of the next smaller count that it was measured for.

    Where the lens lifts the threshold, a cut must be deeper by as much as that reads.
    """
    column = max(i for i, n in enumerate(COUNTS) if n <= count)
    able = [stops for stops, shares in POWER if shares[column] >= SHOWN]
    lifted = threshold(count, lens) - threshold(count)
    least = min(able) + lifted / CUT_READS if able else math.inf
    shown = [stops for stops in able if stops >= least]
    hidden = [stops for stops, _ in POWER if stops not in shown]
    if not shown:
        return say(
            "{count} compositions would not show {stops:g} stops for sure", count=count, stops=POWER[-1][0]
        )
    seen = _stops(min(shown))
    if not hidden:
        return say("{count} compositions would show {seen}", count=count, seen=seen)
    return say(
        "{count} compositions would show {seen}, not surely {hidden}",
        count=count,
        seen=seen,
        hidden=_stops(max(hidden)),
    )


def _stops(stops: float) -> str:
    if stops in (0.5, 1):
        return marked("half a stop") if stops < 1 else marked("1 stop")
    return say("{amount} stops", amount=figure(f"{stops:g}"))
