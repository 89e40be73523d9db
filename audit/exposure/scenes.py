"""Groups of frames that show one scene, and the exposure series (brackets) taken in one go."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.exposure.filter_runs import filters_explain, losses
from audit.exposure.sets import Run, find_sets
from audit.kit.kit import Kit
from audit.optics.arrays import Floats
from audit.table.columns import filled

SCENE_GAP_MIN = 10.0
"""Longest pause between the end of one exposure and the start of the next, minutes."""
SIDEWAYS = (5, 6, 7, 8)
"""EXIF orientations of a picture that is shown turned by a quarter."""


def add_scenes(frames: pd.DataFrame, kit: Kit | None = None) -> pd.DataFrame:
    """Fills `scene`, `bracket` and `bracket_by`; frames without time or body belong to none of them.

    A scene is one body, lens and focal length with pauses of at most `SCENE_GAP_MIN`; a lens without contacts
    has none. Scene and bracket are named after their first frame, so that they do not depend on the order of
    the rows. `bracket_by` says who stepped it: "camera", "hand", or "undecided", where filters of the `kit`
    that went on or off explain it as well.
    """
    order = in_order(frames)
    return filled(frames, {**_scenes(order, frames.index), **_brackets(order, frames.index, kit)})


def in_order(frames: pd.DataFrame) -> pd.DataFrame:
    """The frames with time and body, in order of body and time, with `moment` and `upright` besides."""
    timed = frames["captured_at"].notna() & frames["body"].notna()
    usable = frames.assign(moment=moments(frames), upright=upright(frames))[timed]
    return usable.sort_values(["body", "moment", "counter", "frame"], kind="stable")


def moments(frames: pd.DataFrame) -> pd.Series:
    """Time by which the frames of one body follow one another: UTC where all of its frames give an offset.

    A clock set to another zone on the way would otherwise set frames side by side that are hours apart.
    """
    known = frames["utc_offset_min"].notna() | frames["captured_at"].isna()
    by_utc = known.groupby(frames["body"].fillna("")).transform("all")
    offset_min = frames["utc_offset_min"].astype("Float64").fillna(0.0).astype("float64").where(by_utc, 0.0)
    return frames["captured_at"] - pd.to_timedelta(offset_min, unit="min").dt.as_unit("us")


def upright(frames: pd.DataFrame) -> pd.Series:
    """Whether the picture is shown taller than wide."""
    tall = (frames["height_px"] > frames["width_px"]).fillna(False).to_numpy(dtype=bool)
    turned = frames["orientation"].isin(SIDEWAYS).to_numpy(dtype=bool)
    return pd.Series(tall ^ turned, index=frames.index)


def _scenes(order: pd.DataFrame, index: pd.Index) -> dict[str, pd.Series]:
    order = order[order["focal_length_mm"].notna()]
    number, names = _scene_number(order), order["frame"].to_numpy(dtype=object)
    first = np.searchsorted(number, number)  # numbers grow along the order
    return {"scene": pd.Series(names[first], index=order.index, dtype=object).reindex(index)}


def _gap_s(order: pd.DataFrame) -> Floats:
    """Pause before each row, from the end of the row before (a time stamp is the start or the end)."""
    exposure_s = order["exposure_time_s"].fillna(0.0)
    longer = np.maximum(exposure_s.shift(fill_value=0.0), exposure_s)
    return (order["moment"].diff().dt.total_seconds() - longer).to_numpy(dtype=float)


def _scene_number(order: pd.DataFrame) -> NDArray[np.int64]:
    return np.cumsum(differs(order, "body", "lens", "focal_length_mm") | (_gap_s(order) > SCENE_GAP_MIN * 60))


def differs(order: pd.DataFrame, *names: str) -> NDArray[np.bool_]:
    """Whether any of these differs from the row before; nothing written is like nothing written."""
    keys = order[list(names)].astype(object)
    keys = keys.where(keys.notna(), "")
    return np.asarray((keys != keys.shift()).any(axis=1), dtype=bool)


def _brackets(order: pd.DataFrame, index: pd.Index, kit: Kit | None) -> dict[str, pd.Series]:
    run, names = _as_run(order), order["frame"].to_numpy(dtype=object)
    cost = losses(kit) if kit else None
    found = {name: np.full(len(order), None, dtype=object) for name in ("bracket", "bracket_by")}
    for one in find_sets(run):
        part = slice(one.start, one.start + one.size)
        doubt = one.by_time and filters_explain(run.ev[part], run.pause[part], cost)
        found["bracket"][part] = names[one.start]
        found["bracket_by"][part] = "undecided" if doubt else one.by
    return {
        name: pd.Series(values, index=order.index, dtype=object).reindex(index)
        for name, values in found.items()
    }


def _as_run(order: pd.DataFrame) -> Run:
    def numbers(name: str) -> Floats:
        return order[name].to_numpy(dtype=float)

    ev, written = _relative_ev(order)
    told = (order["exposure_mode"] == "auto bracket").to_numpy(dtype=bool)
    program, pause = order["exposure_program"], _gap_s(order)
    keys = order.assign(written=written, told=told)
    same = ("body", "lens", "focal_length_mm", "upright", "exposure_program", "written", "told")
    other = differs(keys, *same) | _other_rig(order["rig"])
    return Run(
        pause=pause,
        gap=pause - order["exposure_time_s"].fillna(0.0).shift(fill_value=0.0).to_numpy(dtype=float),
        time_s=numbers("exposure_time_s"),
        ev=ev,
        bias=numbers("exposure_bias_stops"),
        f_number=numbers("f_number"),
        iso=numbers("iso"),
        kind=np.cumsum(other),
        told=told,
        manual=(program.isna() | (program == "manual")).to_numpy(dtype=bool),
    )


def _other_rig(rig: pd.Series) -> NDArray[np.bool_]:
    """Whether the rig differs from the last one declared; a frame of which nothing is said goes with it."""
    known = rig.astype(object).where(rig.notna())
    last = known.ffill().shift()
    return np.asarray(known.notna() & last.notna() & (known != last), dtype=bool)


def _relative_ev(order: pd.DataFrame) -> tuple[Floats, NDArray[np.int64]]:
    """Exposure in stops without what was not written, and what was: comparable where the same was."""
    time_s = order["exposure_time_exact_s"].fillna(order["exposure_time_s"]).to_numpy(dtype=float)
    f_number = order["f_number_exact"].fillna(order["f_number"]).to_numpy(dtype=float)
    iso = order["iso"].to_numpy(dtype=float)
    aperture, speed = 2 * np.log2(f_number), np.log2(iso / 100)
    known = order["ev100"].to_numpy(dtype=float)
    ev = np.nan_to_num(aperture) - np.log2(time_s) - np.nan_to_num(speed)
    written = np.isnan(aperture) + 2 * np.isnan(speed) + 4 * np.isnan(known)
    return np.where(np.isnan(known), ev, known), written
