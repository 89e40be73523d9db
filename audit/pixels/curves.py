"""The tone curve of one camera from the brackets of a dump, and what it leaves of each of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd

from audit.optics.response import BRIGHTEST, DARKEST, GENERAL, Curve, fit_curve, light_stops
from audit.pixels.evidence import CameraCurve
from audit.pixels.pair import FARTHEST_SHIFT, LEAST_VALID, OWN_FARTHEST_STOPS, laid_over
from audit.pixels.register import register
from audit.pixels.shots import USED
from audit.pixels.sketch import Codes, Sketch
from audit.table.columns import records

LEAST_STEPS = 3
MOST_BRACKETS = 8
"""Brackets looked at for one model, spread over the trip: more do not change a curve of six numbers."""

Look = Callable[[Mapping[str, Any]], Sketch | None]


def camera_curves(frames: pd.DataFrame, look: Look) -> tuple[dict[str, Curve], tuple[CameraCurve, ...]]:
    """A curve for each model that needs one (all others: GENERAL), and what to say of it."""
    curves: dict[str, Curve] = {}
    told = []
    for model, part in frames.groupby("model", sort=True):
        brackets = _brackets(part, look)
        fitted = camera_curve(brackets) if brackets else None
        if fitted is not None:
            curves[str(model)] = fitted
        used = fitted or GENERAL
        told.append(CameraCurve(str(model), used.own, used.residual_stops, len(brackets) if used.own else 0))
    return curves, tuple(told)


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
            for row in records(part[part["bracket"] == names[index]], USED)
            if (sketch := look(row)) is not None
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


def camera_curve(brackets: Sequence[Bracket]) -> Curve | None:
    """The curve of one camera from brackets of still scenes, each of (luma codes, ev100), at least three.

    `residual_stops` is the root mean square error of the steps between two frames, each bracket measured with
    the curve of the others; with one bracket, twice what its own curve leaves. None where the brackets are
    too narrow, where the scene moved, or where no trustworthy curve comes out.
    """
    steps = [list(_steps(bracket)) for bracket in brackets if len(bracket) >= LEAST_FRAMES]
    steps = [one for one in steps if one and max(step for _, _, step in one) >= LEAST_SPAN_STOPS]
    curve = _fitted(steps)
    if curve is None:
        return None
    left = _left_out(steps) if len(steps) > 1 else ALONE_FACTOR * _missed(steps[0], curve)
    if not left <= MOST_MISSED_STOPS:
        return None
    return replace(curve, residual_stops=left)


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


def _left_out(steps: Sequence[Sequence[Sample]]) -> float:
    """Error of each bracket's steps with the curve of the others, root mean square; NaN where none fits."""
    missed = []
    for index, one in enumerate(steps):
        others = _fitted([*steps[:index], *steps[index + 1 :]])
        if others is not None:
            missed.append(_missed(one, others))
    known = [m for m in missed if np.isfinite(m)]
    return float(np.sqrt(np.mean(np.square(known)))) if known else float("nan")


def _missed(samples: Sequence[Sample], curve: Curve) -> float:
    """Root mean square error of the steps as the curve reads them."""
    errors = [
        np.nanmedian(light_stops(bright, curve) - light_stops(dark, curve)) - step
        for bright, dark, step in samples
    ]
    return float(np.sqrt(np.nanmean(np.square(errors))))
