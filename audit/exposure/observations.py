"""From the table to what the hidden chain sees: one unit a frame, or a bracket by its middle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.exposure.light import lit_otherwise
from audit.exposure.scenes import moments
from audit.optics.arrays import Floats

Wholes = NDArray[np.int64]
Declared = tuple[str, ...] | None
"""Ids of the filters that were declared; None: no neutral, a grad or polariser may have been on."""

RUN_GAP_MIN = 150.0
"""After such a pause light and filters are anew (assumed)."""
SETUP_GAP_MIN = 15.0
"""Pause that parts setups where no column tells them (assumed)."""
UNTIMED_GAP_S = 60.0
"""Pause assumed beside a frame without a time."""
STAMP_S = 2.0
"""How far a stamp may be off: whole seconds at both ends."""
SERIES_END_S = 30.0
"""Longer exposures are timed by hand, by arithmetic, whatever the program says (common practice)."""
LOWEST_ISO = (50.0, 400.0)
"""Base ISO of cameras; a body that shows higher ones only has them raised."""
BLACK_EV100 = -7.0
"""A picture that shows less light than this is black: it tells no more."""
NOTHING, METERED, MANUAL, RENDERED = range(4)
"""How a unit's level was read: not at all, by the meter, set by hand, or with the picture's brightness."""


@dataclass(frozen=True)
class Units:
    """U units in order of body and time. `row_unit` (rows) leads from the table's rows to them.

    `value` ev100 + bias, or with the picture's brightness where that was measured [stop], `kind` how it was
    read; `set_value` and `set_kind` the same without the picture where there is one (else `NOTHING`). `gap_s`
    pause before the unit, `between_s` from middle to middle, `new_run` and `new_setup` against the unit
    before, `exposure_s` the longest, `raised_stops` ISO above the body's lowest, `declared` place in
    `declarations` (sets of filter ids) or -1, `sky` expected EV100 (NaN: unknown), `second` of its start,
    `body` a number, `first_row` of the table.
    """

    row_unit: Wholes
    first_row: Wholes
    second: Floats
    timed: NDArray[np.bool_]
    body: Wholes
    value: Floats
    kind: Wholes
    set_value: Floats
    set_kind: Wholes
    gap_s: Floats
    between_s: Floats
    new_run: NDArray[np.bool_]
    new_setup: NDArray[np.bool_]
    exposure_s: Floats
    f_number: Floats
    raised_stops: Floats
    flash: NDArray[np.bool_]
    by_hand: NDArray[np.bool_]
    declared: Wholes
    declarations: tuple[Declared, ...]
    sky: Floats


def units_of(
    frames: pd.DataFrame,
    sky_ev100: Floats | None = None,
    rendered_stops: Floats | None = None,
    *,
    use_declared: bool = True,
) -> Units:
    """Units of a table with SCAN, GEAR and JOIN columns; `bracket` and `setup` are used where they are.

    `rendered_stops` (rows) is how bright the picture came out, in stops of its mean linear light over middle
    grey, NaN where not measured: with it, a wrong exposure shows as a dark or bright picture.
    """
    part = _columns(frames, sky_ev100, rendered_stops)
    part["declared"], names = _declared(frames, use_declared)
    part = part.iloc[_order(part)]
    unit = _unit_numbers(part)
    first = np.flatnonzero(np.diff(unit, prepend=-1))
    last = np.append(first[1:], len(unit)) - 1
    value = _middles(part["value"], unit, first, last)
    set_value = _middles(part["set_value"], unit, first, last)
    head, tail = part.iloc[first], part.iloc[last]
    gap_s, between_s = _pauses(head, tail)
    new_run = _changed(head["body_code"]) | (between_s > RUN_GAP_MIN * 60)
    row_unit = np.empty(len(frames), dtype=np.int64)
    row_unit[part["row"].to_numpy()] = unit
    exposure_s = np.maximum.reduceat(part["exposure"].to_numpy(), first) if len(first) else np.empty(0)
    return Units(
        row_unit=row_unit,
        first_row=head["row"].to_numpy(),
        second=head["second"].to_numpy(),
        timed=head["timed"].to_numpy(),
        body=head["body_code"].to_numpy(),
        value=value,
        kind=np.where(np.isnan(value), NOTHING, head["kind"].to_numpy()),
        set_value=set_value,
        set_kind=np.where(np.isnan(set_value), NOTHING, head["set_kind"].to_numpy()),
        gap_s=gap_s,
        between_s=between_s,
        new_run=new_run,
        new_setup=new_run | _new_setup(head, gap_s),
        exposure_s=exposure_s,
        f_number=head["f_number"].to_numpy(),
        raised_stops=head["raised_stops"].to_numpy(),
        flash=head["flash"].to_numpy(),
        by_hand=head["by_hand"].to_numpy(),
        declared=np.maximum.reduceat(part["declared"].to_numpy(), first) if len(first) else np.empty(0, int),
        declarations=names,
        sky=_throughout(head["sky"], new_run),
    )


def _columns(frames: pd.DataFrame, sky: Floats | None, rendered: Floats | None) -> pd.DataFrame:
    """Plain numeric columns, one row each, in the table's order."""
    count = len(frames)
    blank = np.full(count, np.nan)
    rendered = blank if rendered is None else np.asarray(rendered, dtype=float)
    exposure = frames["exposure_time_s"].fillna(0.0).to_numpy(dtype=float)
    by_hand = (frames["exposure_program"] == "manual").to_numpy(dtype=bool) | (exposure > SERIES_END_S)
    bias = frames["exposure_bias_stops"].fillna(0.0).to_numpy(dtype=float)
    seen = ~lit_otherwise(frames).to_numpy(dtype=bool)
    level = frames["ev100"].to_numpy(dtype=float)
    measured = ~np.isnan(rendered)
    as_set = level + np.where(by_hand, 0.0, bias)
    shown = np.maximum(level + np.nan_to_num(rendered), BLACK_EV100)
    iso = frames["iso"].to_numpy(dtype=float)
    lowest = frames["iso"].groupby(frames["body"], dropna=False).transform("min").to_numpy(dtype=float)
    moment = moments(frames)
    setup_keys = ["setup"] if _filled(frames, "setup") else ["body", "lens", "focal_length_mm", "orientation"]
    return pd.DataFrame(
        {
            "row": np.arange(count),
            "body_code": _codes(frames, ["body"]),
            "folder_code": _codes(frames, ["folder"]),
            "setup_code": _codes(frames, setup_keys),
            "told": _filled(frames, "setup"),
            "bracket_code": _codes(frames, ["bracket"]) if _filled(frames, "bracket") else -1,
            "counter": frames["counter"].fillna(0).to_numpy(dtype=float),
            "timed": moment.notna().to_numpy(),
            "second": moment.astype("int64").to_numpy() / 1e6,
            "exposure": exposure,
            "f_number": frames["f_number"].to_numpy(dtype=float),
            "raised_stops": np.nan_to_num(np.log2(iso / np.clip(lowest, *LOWEST_ISO))),
            "flash": frames["flash_fired"].fillna(False).to_numpy(dtype=bool),
            "by_hand": by_hand,
            "value": np.where(seen, np.where(measured, shown, as_set), np.nan),
            "kind": np.where(measured, RENDERED, np.where(by_hand, MANUAL, METERED)),
            "set_value": np.where(seen & measured, as_set, np.nan),
            "set_kind": np.where(by_hand, MANUAL, METERED),
            "sky": blank if sky is None else np.asarray(sky, dtype=float),
        }
    )


def _filled(frames: pd.DataFrame, name: str) -> bool:
    return name in frames and bool(frames[name].notna().any())


def _codes(frames: pd.DataFrame, names: list[str]) -> Wholes:
    """One number for each combination of values; -1 in a single column that is null."""
    if len(names) == 1:
        return np.asarray(pd.factorize(frames[names[0]])[0], dtype=np.int64)
    total = np.zeros(len(frames), dtype=np.int64)
    for name in names:
        codes, values = pd.factorize(frames[name])
        total = total * (len(values) + 2) + codes + 1
    return total


def _order(part: pd.DataFrame) -> Wholes:
    """Rows by body and time; a frame without a time stands after the one before it by counter."""
    by_name = part.sort_values(["body_code", "folder_code", "counter"], kind="stable")
    second = by_name["second"].where(by_name["timed"])
    filled = second.groupby([by_name["body_code"], by_name["folder_code"]]).ffill()
    part["second"] = filled.fillna(0.0).reindex(part.index)
    return np.lexsort((part["row"], part["counter"], part["second"], part["body_code"]))


def _unit_numbers(part: pd.DataFrame) -> Wholes:
    bracket = part["bracket_code"].to_numpy()
    same = (bracket[1:] == bracket[:-1]) & (bracket[1:] >= 0) & (np.diff(part["body_code"]) == 0)
    return np.concatenate([[0], np.cumsum(~same)])[: len(part)]


def _middles(values: pd.Series, unit: Wholes, first: Wholes, last: Wholes) -> Floats:
    """Median value of each unit; of a lone frame its own."""
    value = values.to_numpy()
    out = value[first]
    many = (last > first)[unit]
    if many.any():
        middle = pd.Series(value[many]).groupby(unit[many]).median()
        out[middle.index.to_numpy()] = middle.to_numpy()
    return out


def _pauses(head: pd.DataFrame, tail: pd.DataFrame) -> tuple[Floats, Floats]:
    """Pause before each unit and time from its predecessor's, seconds."""
    start, end = head["second"].to_numpy(), tail["second"].to_numpy()
    between = np.maximum(start - np.append(start[:1], end[:-1]), 0.0)
    before, own = np.append([0.0], tail["exposure"].to_numpy()[:-1]), head["exposure"].to_numpy()
    timed = head["timed"].to_numpy()
    blind = ~(timed & np.append([True], timed[:-1]))
    body = head["body_code"].to_numpy()
    told = ~blind & np.append([False], body[1:] == body[:-1])
    starts = _any_of(body, told & (between + STAMP_S < own))
    ends = _any_of(body, told & (between + STAMP_S < before))
    # A stamp is the start or the end of the exposure; where neither shows, the longer pause is possible.
    gap = np.where(starts == ends, between - np.minimum(before, own), between - np.where(starts, before, own))
    gap, least = np.maximum(gap, 0.0), np.where(blind, UNTIMED_GAP_S, 0.0)
    return np.maximum(gap, least), np.maximum(between, least)


def _any_of(body: Wholes, flag: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """For each unit whether any unit of its body is flagged."""
    hits = np.bincount(body + 1, weights=flag.astype(float))
    return np.asarray(hits[body + 1] > 0, dtype=bool)


def _new_setup(head: pd.DataFrame, gap_s: Floats) -> NDArray[np.bool_]:
    """By the table's setups, of which a frame without one keeps to the one before."""
    if not bool(head["told"].any()):
        return _changed(head["setup_code"]) | (gap_s > SETUP_GAP_MIN * 60)
    setup = head["setup_code"].to_numpy()
    last = np.maximum.accumulate(np.where(setup >= 0, np.arange(len(setup)), 0))
    return _changed(head["setup_code"].iloc[last])


def _throughout(sky: pd.Series, new_run: NDArray[np.bool_]) -> Floats:
    """The sky's light with gaps filled from beside them: a run has it for all of its units or for none."""
    by_run = np.cumsum(new_run)
    filled = sky.groupby(by_run).ffill()
    return np.asarray(filled.groupby(by_run).bfill(), dtype=float)


def _changed(codes: pd.Series) -> NDArray[np.bool_]:
    return np.diff(codes.to_numpy(), prepend=-99) != 0


def _declared(frames: pd.DataFrame, use: bool) -> tuple[Wholes, tuple[Declared, ...]]:
    """What the photographer declared for each row: its place in what was declared at all, or -1."""
    out = np.full(len(frames), -1, dtype=np.int64)
    if not use:
        return out, ()
    said = frames["declaration"].isin(["worn", "bare", "no-neutral"])
    said &= frames["declaration_source"] == "photographer"
    rows = np.flatnonzero(said.to_numpy(dtype=bool))
    if not len(rows):
        return out, ()
    states = frames["declaration"].to_numpy(dtype=object)
    filters = frames["filters"].to_numpy(dtype=object)
    sets: dict[Declared, int] = {}
    for row in rows:
        worn = states[row] == "worn" and filters[row] is not None
        ids: Declared = tuple(sorted(filters[row])) if worn else ()
        out[row] = sets.setdefault(None if states[row] == "no-neutral" else ids, len(sets))
    return out, tuple(sets)
