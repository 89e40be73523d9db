"""The estimate as a step of the table: which filters were on, how sure, and why."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.exposure.certainty import left_out, most_certain, unexplained, untold
from audit.exposure.chances import class_chances
from audit.exposure.estimate_words import Told, cautious, evidence, told
from audit.exposure.observations import Units, units_of
from audit.exposure.states import States, possible_states
from audit.kit.kit import Kit
from audit.optics.arrays import Floats
from audit.table.columns import filled

COMPARED = ("stops", "err_stops", "sure")


def add_independent(frames: pd.DataFrame, kit: Kit) -> pd.DataFrame:
    """Fills the estimated_independent_* columns; all others stay as they are."""
    blind = add_estimate(frames, kit, use_declared=False)
    return frames.assign(**{f"estimated_independent_{name}": blind[f"estimated_{name}"] for name in COMPARED})


Sky = tuple[Floats, Floats]
"""Expected EV100 and its slope in stops per minute, one for each row; NaN where unknown."""

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
    said, jumps = told_of(units, states, kit)
    words = evidence(units, said, untold(units, states), jumps)
    columns = _columns(units.row_unit, said, words)
    # A run that is a set or a change of filters: nobody can be sure which.
    undecided = (frames["bracket_by"] == "undecided").to_numpy(dtype=bool, na_value=False)
    undeclared = (frames["declaration"] == "undeclared").to_numpy(dtype=bool, na_value=False)
    open_ = undecided & (undeclared | (not use_declared))
    columns["estimated_sure"] = np.where(open_, "unsure", columns["estimated_sure"]).tolist()
    return filled(frames, columns)


def told_of(units: Units, states: States, kit: Kit) -> tuple[Told, Floats]:
    """What is told of every unit, no surer than anything bears out, and its jumps (see `unexplained`)."""
    said = _told(units, states, kit)
    jumps = unexplained(units, said.stops, states)
    return cautious(said, most_certain(units, states, jumps)), jumps


def _told(units: Units, states: States, kit: Kit) -> Told:
    """What the chain tells of every unit, some units at a time, so that memory stays small."""
    whole: dict[str, NDArray[np.generic]] = {}
    left = left_out(units)
    for at, chances in class_chances(units, states, kit):
        for name, values in vars(told(states, chances, left[at])).items():
            if name not in whole:
                whole[name] = np.empty(len(units.value), dtype=values.dtype)
            whole[name][at] = values
    return Told(**whole)  # type: ignore[arg-type]


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
