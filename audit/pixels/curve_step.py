"""The tone curve of each camera model: fitted on the dump's own brackets where it holds some."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from audit.optics.response import GENERAL, Curve
from audit.pixels.curves import camera_curve
from audit.pixels.evidence import CameraCurve
from audit.pixels.pictures import USED
from audit.pixels.sketch import Sketch
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
