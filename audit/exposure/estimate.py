"""The estimate as a step of the table: which filters were on, how sure, and why."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.exposure import prior
from audit.exposure.estimate_words import Told, cautious, evidence, told, untold
from audit.exposure.observations import NOTHING, Units, units_of
from audit.exposure.states import States, possible_states
from audit.kit.kit import Kit
from audit.optics.arrays import Floats
from audit.optics.markov import Chain, Runs, forward_backward
from audit.table.columns import filled

COMPARED = ("stops", "err_stops", "sure")


def add_independent(frames: pd.DataFrame, kit: Kit) -> pd.DataFrame:
    """Fills the estimated_independent_* columns; all others stay as they are."""
    blind = add_estimate(frames, kit, use_declared=False)
    return frames.assign(**{f"estimated_independent_{name}": blind[f"estimated_{name}"] for name in COMPARED})


Sky = tuple[Floats, Floats]
"""Expected EV100 and its slope in stops per minute, one for each row; NaN where unknown."""

SIDE_BY_SIDE = 16
"""Runs that go through the chain together."""
COLUMNS = ("sets", "stops", "err_stops", "class", "plain", "several", "sure", "probability", "words")


def add_estimate(
    frames: pd.DataFrame,
    kit: Kit,
    sky: Sky | None = None,
    rendered_stops: Floats | None = None,
    *,
    use_declared: bool = True,
) -> pd.DataFrame:
    """Fills the estimated_* columns from the exposures of each body's frames.

    `estimated_stops` is the loss of the neutrals worn; a polariser or grads are named in the class.
    `sky` defaults to the table's sky_ev100; `rendered_stops`: see `units_of`. Without `use_declared` the
    photographer's own declaration is not looked at, so that it can be held against the estimate.
    Null where the kit holds no filter; a frame without an exposure is estimated from those beside it.
    """
    if possible_states(kit) is None or not len(frames):
        return filled(frames, {f"estimated_{name}": [None] * len(frames) for name in COLUMNS})
    units = units_of(frames, _expected(frames, sky), rendered_stops, use_declared=use_declared)
    states = possible_states(kit, units.declarations)
    assert states is not None  # the kit holds a filter
    blind = untold(units, states, prior.BRIGHTEST_EV100)
    said = cautious(_told(units, states, kit), blind)
    columns = _columns(units.row_unit, said, evidence(units, said, blind))
    # A run that is a set or a change of filters: nobody can be sure which.
    undecided = (frames["bracket_by"] == "undecided").to_numpy(dtype=bool, na_value=False)
    undeclared = (frames["declaration"] == "undeclared").to_numpy(dtype=bool, na_value=False)
    open_ = undecided & (undeclared | (not use_declared))
    columns["estimated_sure"] = np.where(open_, "unsure", columns["estimated_sure"]).tolist()
    return filled(frames, columns)


def class_chances(
    units: Units, states: States, kit: Kit
) -> Iterator[tuple[NDArray[np.int64], NDArray[np.float32]]]:
    """Places of some units and the chance of each class (C) in them, until all units have had their turn."""
    chain = Chain(prior.LEVELS, states.quick, states.slow, states.start, prior.RESTART_VAR)
    inputs = _inputs(units, states, kit)
    for spans in _batches(units.new_run):
        classes = forward_backward(chain, _runs(inputs, spans)).classes
        sizes = [stop - start for start, stop in spans]
        at = np.concatenate([np.arange(start, stop) for start, stop in spans])
        yield at, np.concatenate([row[:size] for row, size in zip(classes, sizes, strict=True)])


def _told(units: Units, states: States, kit: Kit) -> Told:
    """What is told of every unit, some units at a time, so that memory stays small."""
    whole: dict[str, NDArray[np.generic]] = {}
    for at, chances in class_chances(units, states, kit):
        for name, values in vars(told(states, chances)).items():
            if name not in whole:
                whole[name] = np.empty(len(units.value), dtype=values.dtype)
            whole[name][at] = values
    return Told(**whole)  # type: ignore[arg-type]


@dataclass(frozen=True)
class _Inputs:
    """Everything by unit, and the tables the units point into."""

    table: NDArray[np.float32]
    cell: NDArray[np.int32]
    place: NDArray[np.int64]
    nothing: int
    ceiling: Floats
    known: NDArray[np.bool_]
    steps: tuple[Floats, Floats, Floats]
    changes: tuple[Floats, Floats]
    weights: tuple[NDArray[np.float32], NDArray[np.float32]]
    rows: tuple[NDArray[np.int64], NDArray[np.int64]]


def _inputs(units: Units, states: States, kit: Kit) -> _Inputs:
    known = ~np.isnan(units.sky)
    middle = np.where(known, units.sky, prior.MIDDLE_EV100)
    width = 2 * prior.REACH + 1
    fine = prior.LEVELS[:, None] - states.stops
    cell = np.rint(fine / prior.FINE_STOPS).astype(np.int32) + states.with_extra * np.int32(width)
    reading = np.clip(np.nan_to_num(units.value - middle), -24, 24)
    place = units.kind * 2 * width + prior.REACH - np.rint(reading / prior.FINE_STOPS).astype(np.int64)
    none = len(units.declarations)
    return _Inputs(
        table=prior.likelihood_table(states.extra_ranges),
        cell=cell.astype(np.int32),
        place=place,
        nothing=NOTHING * 2 * width + prior.REACH,
        ceiling=prior.BRIGHTEST_EV100 - middle,
        known=known,
        steps=prior.light_step(units.between_s, units.new_setup, known),
        changes=prior.change_chance(units.gap_s, units.new_setup),
        weights=(
            prior.declared_weights(states, kit, units.declarations).astype(np.float32),
            prior.time_weights(states).astype(np.float32),
        ),
        rows=(
            np.where(units.declared < 0, none, units.declared),
            prior.time_class(units.exposure_s, units.in_step),
        ),
    )


def _batches(new_run: NDArray[np.bool_]) -> Iterator[list[tuple[int, int]]]:
    """Spans of units, one a run, runs of like length together."""
    starts = np.flatnonzero(new_run)
    stops = np.append(starts[1:], len(new_run))
    spans = sorted(zip(starts.tolist(), stops.tolist(), strict=True), key=lambda s: s[1] - s[0])
    for at in range(0, len(spans), SIDE_BY_SIDE):
        yield spans[at : at + SIDE_BY_SIDE]


def _runs(inputs: _Inputs, spans: list[tuple[int, int]]) -> Runs:
    length = max(stop - start for start, stop in spans)
    at = np.array([start for start, _ in spans])[:, None] + np.arange(length)
    inside = at < np.array([stop for _, stop in spans])[:, None]
    at = np.where(inside, at, 0)

    def take(values: Floats, blank: float) -> NDArray[np.float32]:
        return np.where(inside, values[at], blank).astype(np.float32)

    declared, time = (
        np.where(inside, row[at], blank) for row, blank in zip(inputs.rows, (-1, 0), strict=True)
    )
    variance, jump, size = inputs.steps
    change, hasty = inputs.changes
    return Runs(
        table=inputs.table,
        place=np.where(inside, inputs.place[at], inputs.nothing).astype(np.int32),
        cell=inputs.cell,
        class_weight=inputs.weights[0][declared] * inputs.weights[1][time],
        ceiling=take(inputs.ceiling, 99.0),
        walk_var=take(variance, 0.0),
        jump=take(jump, 0.0),
        jump_stops=take(size, 1.0),
        change=take(change, 0.0),
        hasty=take(hasty, 0.0),
        light_start=prior.light_start(inputs.known[at[:, 0]]).astype(np.float32),
    )


def _expected(frames: pd.DataFrame, sky: Sky | None) -> Floats | None:
    if sky is not None:
        return np.asarray(sky[0], dtype=float)
    if "sky_ev100" in frames and bool(frames["sky_ev100"].notna().any()):
        return frames["sky_ev100"].to_numpy(dtype=float)
    return None


def _columns(row: NDArray[np.int64], said: Told, words: list[str]) -> dict[str, list[Any]]:
    """What is told of the unit of each row."""
    by_unit: dict[str, Any] = {
        "sets": said.sets,
        "stops": said.stops,
        "err_stops": said.err_stops,
        "class": said.class_words,
        "plain": said.plain_words,
        "several": said.several.tolist(),
        "sure": said.sure,
        "probability": said.probability,
        "words": words,
    }
    return {f"estimated_{name}": [values[unit] for unit in row] for name, values in by_unit.items()}
