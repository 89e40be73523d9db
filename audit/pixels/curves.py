"""The tone curve of one camera from the brackets of a dump, and what it leaves of each of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd

from audit.optics.arrays import Floats
from audit.optics.response import BRIGHTEST, DARKEST, GENERAL, Curve, fit_curve, light_stops
from audit.pixels.evidence import CameraCurve
from audit.pixels.pair import (
    FARTHEST_SHIFT,
    LEAST_VALID,
    OWN_ERR_FACTOR,
    OWN_FARTHEST_STOPS,
    farthest,
    growth,
    laid_over,
)
from audit.pixels.processing import DOUBTED, OF_ITS_OWN, USED, Curves, Kind, kind_of
from audit.pixels.register import register
from audit.pixels.shots import USED as USED_BY_PICTURES
from audit.pixels.shrink import RAW
from audit.pixels.sketch import Codes, Sketch
from audit.table.columns import records
from audit.table.distinct import alike, first_rows

LEAST_STEPS = 3
MOST_BRACKETS = 8
"""Brackets looked at for one model, spread over the trip: more do not change a curve of six numbers."""
LEAST_DOUBTED_BRACKETS = 2
"""Where each picture may have a curve of its own, one bracket tells nothing of the next."""

Look = Callable[[Mapping[str, Any]], Sketch | None]


def camera_curves(frames: pd.DataFrame, look: Look) -> tuple[Curves, tuple[CameraCurve, ...]]:
    """The curves fitted for each model and kind of picture that has brackets, and what to say of all."""
    fitted: dict[tuple[str, Kind], Curve] = {}
    told = []
    for model, kind, part in _parts(frames):
        doubted = DOUBTED.get(kind)
        brackets = [] if kind in OF_ITS_OWN else _brackets(part, look)
        enough = len(brackets) >= (LEAST_DOUBTED_BRACKETS if doubted else 1)
        own = camera_curve(brackets) if enough else None
        if own is not None:
            fitted[model, kind] = own
        used = own or doubted or GENERAL
        count = len(brackets) if own else 0
        told.append(CameraCurve(model, used.own, used.residual_stops, count, farthest(used), used.doubt))
    return Curves(fitted), tuple(told)


def _parts(frames: pd.DataFrame) -> Iterator[tuple[str, Kind, pd.DataFrame]]:
    """The frames of each model and kind of picture, in the order of their names."""
    known = frames[frames["model"].notna()]
    about = known["notes_about"].map(tuple)
    number = alike([*(known[name] for name in USED if name != "notes_about"), about])
    kinds = [(str(row["model"]), kind_of(row)) for row in records(known.iloc[first_rows(number)], USED)]
    for model, kind in sorted(set(kinds)):
        same = np.array([one == (model, kind) for one in kinds])
        yield model, kind, known[same[number]]


def _brackets(part: pd.DataFrame, look: Look) -> list[list[tuple[Any, float]]]:
    """Small pictures with their exposures, of up to `MOST_BRACKETS` brackets."""
    part = part[part["bracket_by"] != "undecided"]  # filters between two frames would bend the curve
    steps = part.groupby("bracket", sort=True)["ev100"].nunique()
    names = steps.index[steps >= LEAST_STEPS]
    chosen = sorted({int(i) for i in np.linspace(0, len(names) - 1, MOST_BRACKETS)}) if len(names) else []
    found = []
    for index in chosen:
        members = [
            (sketch.grey, float(row["ev100"]))
            for row in records(part[part["bracket"] == names[index]], USED_BY_PICTURES)
            if (sketch := look(row)) is not None and sketch.source != RAW
        ]
        if len({grey.shape for grey, _ in members}) == 1 and len(members) >= LEAST_STEPS:
            found.append(members)
    return found


Bracket = Sequence[tuple[Codes, float]]
Sample = tuple[Codes, Codes, float]

LEAST_FRAMES = 3
LEAST_SPAN_STOPS = 1.0
"""From the darkest to the brightest frame: the camera's own error of a step weighs too much in less."""
LEAST_STEP_STOPS = 0.15
THINNED = 2
"""Every second cell, either way, tells the same curve in a quarter of the time."""
ALONE_FACTOR = 2.0
"""What a curve leaves of the one bracket it was fitted on says little of others: taken twice."""
MOST_MISSED_STOPS = 0.2
"""A curve that leaves more than this per pair of frames is worth no more than the general one."""
BANDS = 8
"""Of a picture, half of which a bracket alone is fitted in and half of which it is tried in."""
HELD = 0.95
"""Share of the checked steps that the stated range must hold."""


def camera_curve(brackets: Sequence[Bracket]) -> Curve | None:
    """The curve of one camera from brackets of still scenes, each of (luma codes, ev100), at least three.

    It is checked on itself: each bracket's steps are measured with the curve of the others; of one bracket
    alone, those of one half of the picture with the curve of the other, and what that leaves is taken twice.
    `residual_stops` is the root mean square error of these steps, or more, so that the range stated holds
    95 % of them. None where the brackets are too narrow, where the scene moved, where the check leaves too
    much, or no less than the general curve.
    """
    steps = [list(_steps(bracket)) for bracket in brackets if len(bracket) >= LEAST_FRAMES]
    steps = [one for one in steps if one and max(step for _, _, step in one) >= LEAST_SPAN_STOPS]
    curve = _fitted(steps)
    if curve is None:
        return None
    alone = len(steps) == 1
    tried = _left_out(_halves(steps[0]) if alone else steps)
    own, general = (_spread(tried[:, 0], missed) for missed in tried[:, 1:].T)
    left = ALONE_FACTOR * own if alone else own
    return replace(curve, residual_stops=left) if left <= MOST_MISSED_STOPS and own < general else None


def _steps(bracket: Bracket) -> Iterator[Sample]:
    """Pairs of frames (brighter, darker, stops between them) as far apart as a curve is used for."""
    ordered = sorted(bracket, key=lambda frame: frame[1])  # a lower ev100 lets more light in
    laid = list(_laid([grey for grey, _ in ordered]))
    for (bright, low), (dark, high) in combinations(zip(laid, [ev for _, ev in ordered], strict=True), 2):
        if bright is None or dark is None or not LEAST_STEP_STOPS < high - low <= OWN_FARTHEST_STOPS:
            continue
        if np.mean((dark >= DARKEST) & (bright <= BRIGHTEST)) > LEAST_VALID:
            yield bright, dark, high - low


def _laid(pictures: Sequence[Codes]) -> Iterator[Codes | None]:
    """All frames laid over the middle one, thinned; None for one that is shifted too far."""
    middle = pictures[len(pictures) // 2]
    for picture in pictures:
        if picture.shape != middle.shape:
            yield None
            continue
        shift = register(middle, picture, GENERAL)
        near = max(abs(s) for s in shift) <= FARTHEST_SHIFT * max(middle.shape)
        yield laid_over(picture, shift)[::THINNED, ::THINNED] if near else None


def _fitted(steps: Sequence[Sequence[Sample]]) -> Curve | None:
    return fit_curve([sample for one in steps for sample in one])


def _halves(steps: Sequence[Sample]) -> list[list[Sample]]:
    """The same steps twice, each in every other upright band of the picture."""
    band = np.arange(steps[0][0].shape[1]) * BANDS // steps[0][0].shape[1] % 2
    return [
        [(bright[:, band == half], dark[:, band == half], step) for bright, dark, step in steps]
        for half in (0, 1)
    ]


def _left_out(steps: Sequence[Sequence[Sample]]) -> Floats:
    """Each bracket's steps with the curve of the others: (step, error, error of the general curve), (n, 3).

    Empty where no curve of the others came out.
    """
    found = []
    for index, one in enumerate(steps):
        others = _fitted([*steps[:index], *steps[index + 1 :]])
        if others is not None:
            found += [(sample[2], _miss(sample, others), _miss(sample, GENERAL)) for sample in one]
    table = np.array(found).reshape(-1, 3)
    return table[np.isfinite(table).all(axis=1)]


def _miss(sample: Sample, curve: Curve) -> float:
    """Error of a step as the curve reads it; NaN where it reads nothing."""
    bright, dark, step = sample
    ratio = light_stops(bright, curve) - light_stops(dark, curve)
    known = ratio[np.isfinite(ratio)]
    return float(np.median(known)) - step if known.size else float("nan")


def _spread(steps: Floats, missed: Floats) -> float:
    """Root mean square of errors, or more, so that `HELD` of them lie within the range stated of it."""
    if not len(missed):
        return float("nan")
    grown = np.abs(missed) / np.array([growth(step) for step in steps])
    return max(float(np.sqrt(np.mean(missed**2))), float(np.quantile(grown, HELD)) / OWN_ERR_FACTOR)
