"""Groups of frames that show one scene, and the brackets within them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.optics.arrays import Floats

SCENE_GAP_MIN = 10.0
"""Longest pause between the end of one exposure and the start of the next, minutes."""
BURST_GAP_S = 5.0
"""Longest pause inside a bracket, seconds; after a long exposure the camera may add a dark frame as long."""
HAND_GAP_S = 10.0
"""The same where the photographer turned the exposure or its compensation from frame to frame."""
BRACKET_SIZES = (9, 8, 7, 6, 5, 4, 3, 2)
TOLD_SIZE = 2
"""Two frames alone are a bracket only where the camera says so."""
STEP_STOPS = (0.3, 3.1)
LEAST_STEP_STOPS = 0.6
"""Smaller steps are a bracket only by compensation: exposure wavers by thirds of a stop, the hand's too."""
EVEN_STEP_STOPS = 0.2
"""How far a step of a bracket may differ from the others."""


def add_scenes(frames: pd.DataFrame) -> pd.DataFrame:
    """Fills `scene` and `bracket`; frames without time, body or focal length belong to no scene.

    A scene is one body, lens and focal length with pauses of at most `SCENE_GAP_MIN`. Both are named
    after their first frame, so that they do not depend on the order of the rows.
    """
    told = frames["captured_at"].notna() & frames["body"].notna() & frames["focal_length_mm"].notna()
    usable = frames.assign(moment=moments(frames))[told]
    order = usable.sort_values(["body", "moment", "counter", "frame"], kind="stable")
    number, names = _scene_number(order).to_numpy(), order["frame"].to_numpy(dtype=object)
    starts = np.flatnonzero(np.diff(number, prepend=0))
    lengths = np.diff(np.append(starts, len(order)))
    bracket = np.full(len(order), None, dtype=object)
    for start, size in _brackets(_as_run(order), starts + lengths):
        bracket[start : start + size] = names[start]
    found = {"scene": np.repeat(names[starts], lengths), "bracket": bracket}
    columns = {
        name: pd.Series(values, index=order.index, dtype="str").reindex(frames.index)
        for name, values in found.items()
    }
    return frames.assign(**columns)


def moments(frames: pd.DataFrame) -> pd.Series:
    """Time by which the frames of one body follow one another: UTC where all of its frames give an offset.

    A clock set to another zone on the way would otherwise set frames side by side that are hours apart.
    """
    known = frames["utc_offset_min"].notna() | frames["captured_at"].isna()
    by_utc = known.groupby(frames["body"].fillna("")).transform("all")
    offset_min = frames["utc_offset_min"].astype("Float64").fillna(0.0).astype("float64").where(by_utc, 0.0)
    return frames["captured_at"] - pd.to_timedelta(offset_min, unit="min").dt.as_unit("us")


def _gap_s(order: pd.DataFrame) -> pd.Series:
    """Pause before each row, from the end of the row before (a time stamp is the start or the end)."""
    exposure_s = order["exposure_time_s"].fillna(0.0)
    return order["moment"].diff().dt.total_seconds() - np.maximum(
        exposure_s.shift(fill_value=0.0), exposure_s
    )


def _scene_number(order: pd.DataFrame) -> pd.Series:
    same = ["body", "lens", "focal_length_mm"]
    keys = order[same].astype(object).where(order[same].notna(), "")
    changed = (keys != keys.shift()).any(axis=1)
    return (changed | (_gap_s(order) > SCENE_GAP_MIN * 60)).cumsum()


@dataclass(frozen=True)
class _Run:
    """Frames in order, as arrays; `gap` is the pause before each, s."""

    gap: Floats
    ev: Floats
    bias: Floats
    rig: NDArray[np.object_]
    setting: NDArray[np.object_]
    told: NDArray[np.bool_]
    manual: NDArray[np.bool_]


def _brackets(run: _Run, scene_ends: NDArray[np.int64]) -> Iterator[tuple[int, int]]:
    """Place and size of each bracket, found greedily from the front of each scene, largest first."""
    ends = np.union1d(scene_ends, np.flatnonzero(run.gap > HAND_GAP_S))  # no bracket reaches across these
    start = 0
    for end in ends.tolist():
        while start < end:
            size = next((n for n in BRACKET_SIZES if n <= end - start and _is_bracket(run, start, n)), 1)
            if size > 1:
                yield start, size
            start += size


def _as_run(order: pd.DataFrame) -> _Run:
    dark_s = order["exposure_time_s"].fillna(0.0).shift(fill_value=0.0)
    settings = order[["f_number", "iso"]].fillna(0.0)
    return _Run(
        gap=(_gap_s(order) - dark_s).to_numpy(dtype=float),
        ev=order["ev100"].to_numpy(dtype=float),
        bias=order["exposure_bias_stops"].fillna(0.0).to_numpy(dtype=float),
        rig=order["rig"].astype(object).where(order["rig"].notna(), "").to_numpy(),
        setting=(settings["f_number"].astype(str) + " " + settings["iso"].astype(str)).to_numpy(dtype=object),
        told=(order["exposure_mode"] == "auto bracket").to_numpy(),
        manual=(order["exposure_program"] == "manual").to_numpy(),
    )


def _is_bracket(run: _Run, start: int, size: int) -> bool:
    """Burst timing, one rig and even steps; in-camera brackets (all members say so) may have any steps."""
    part = slice(start, start + size)
    ev = run.ev[part]
    if np.isnan(ev).any() or len(set(run.rig[part])) > 1:
        return False
    steps = np.diff(np.sort(ev))
    if steps.min() < STEP_STOPS[0] or steps.max() > STEP_STOPS[1]:
        return False
    burst = bool((run.gap[start + 1 : start + size] <= BURST_GAP_S).all())
    if burst and run.told[part].all():
        return True
    if size <= TOLD_SIZE or np.ptp(steps) > EVEN_STEP_STOPS or len(set(run.setting[part])) > 1:
        return False
    compensated = np.ptp(ev + run.bias[part]) <= 2 * EVEN_STEP_STOPS
    wide = steps.min() >= LEAST_STEP_STOPS
    return bool(compensated or (wide and (burst or run.manual[part].all())))
