"""Groups of frames that show one scene, and the brackets within them."""

from __future__ import annotations

import numpy as np
import pandas as pd

SCENE_GAP_MIN = 10.0
"""Longest pause between the end of one exposure and the start of the next, minutes."""
BURST_GAP_S = 5.0
"""Longest pause inside a bracket, seconds; after a long exposure the camera may add a dark frame as long."""
BRACKET_SIZES = (9, 8, 7, 6, 5, 4, 3, 2)
TOLD_SIZE = 2
"""Two frames alone are a bracket only where the camera says so."""
STEP_STOPS = (0.3, 3.1)
EVEN_STEP_STOPS = 0.2
"""How far a step of a bracket may differ from the others."""


def add_scenes(frames: pd.DataFrame) -> pd.DataFrame:
    """Fills `scene` and `bracket`; frames without time, body or focal length belong to no scene.

    A scene is one body, lens and focal length with pauses of at most `SCENE_GAP_MIN`. Both are named
    after their first frame, so that they do not depend on the order of the rows.
    """
    scene = pd.Series(None, index=frames.index, dtype="str")
    bracket = pd.Series(None, index=frames.index, dtype="str")
    told = frames["captured_at"].notna() & frames["body"].notna() & frames["focal_length_mm"].notna()
    usable = frames.assign(moment=moments(frames))[told]
    order = usable.sort_values(["body", "moment", "counter", "frame"], kind="stable")
    for _, run in order.groupby(_scene_number(order), sort=True):
        scene[run.index] = run["frame"].iloc[0]
        for members in _brackets(run):
            bracket[members] = run.loc[members[0], "frame"]
    return frames.assign(scene=scene, bracket=bracket)


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


def _brackets(run: pd.DataFrame) -> list[list[object]]:
    """Row labels of each bracket of a scene, found greedily from the front, largest first."""
    dark_s = run["exposure_time_s"].fillna(0.0).shift(fill_value=0.0)
    gap = (_gap_s(run) - dark_s).to_numpy()
    rig = run["rig"].astype(object).where(run["rig"].notna(), "").to_numpy()
    auto = (run["exposure_mode"] == "auto bracket").to_numpy()
    ev = run["ev100"].to_numpy(dtype=float)
    found: list[list[object]] = []
    start = 0
    while start < len(run):
        size = next((n for n in BRACKET_SIZES if _is_bracket(start, n, gap, rig, ev, auto)), 1)
        if size > 1:
            found.append(list(run.index[start : start + size]))
        start += size
    return found


def _is_bracket(
    start: int, size: int, gap: np.ndarray, rig: np.ndarray, ev: np.ndarray, auto: np.ndarray
) -> bool:
    """Burst timing, one rig and even steps; in-camera brackets (all members say so) may have any steps."""
    part = slice(start, start + size)
    if start + size > len(ev) or np.isnan(ev[part]).any() or len(set(rig[part])) > 1:
        return False
    if (gap[start + 1 : start + size] > BURST_GAP_S).any():
        return False
    steps = np.diff(np.sort(ev[part]))
    if (steps < STEP_STOPS[0]).any() or (steps > STEP_STOPS[1]).any():
        return False
    told = bool(auto[part].all())
    return told or (size > TOLD_SIZE and bool(np.ptp(steps) <= EVEN_STEP_STOPS))
