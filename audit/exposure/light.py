"""The light of a scene that exposure and declared filters imply, frame against frame.

A frame exposed at ev100 through filters that cost S stops, with compensation b, says that the scene
had the light ev100 + b + S. Frames of one scene should agree on it, whatever they wore.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from audit.exposure.neighbours import COLUMNS as NEIGHBOURS
from audit.exposure.neighbours import against_neighbours
from audit.exposure.references import Comparison, Unit, comparisons
from audit.exposure.scenes import moments
from audit.kit.kit import Filter, Kit
from audit.message.text import marked, say
from audit.optics.density import stops_from_density, stops_from_factor
from audit.table.columns import filled, records

SLIP_STOPS = (0.2, 17.0)
"""A slip of unit must leave a strength that filters are made in."""
_UNITS = {"stops": marked("stops"), "density": marked("density"), "factor": marked("factor")}
"""What a strength may be given in: the kit's own keys, and their words."""


def add_light(frames: pd.DataFrame, kit: Kit) -> pd.DataFrame:
    """Fills the light columns and `unit_slip`.

    Only frames with a photographer's declaration (worn or bare), an ev100 and no flash take part. In
    each scene the least filtered rig is the reference (`comparisons`). Estimated declarations are left
    out: they came from the exposures. The change that the sun is to make in the light within a scene is taken
    out before frames are compared. Beyond its scene each run of frames is held against the runs before and
    after it (`against_neighbours`), with a slip of unit already mended.
    """
    out: dict[str, dict[object, float]] = {name: {} for name in _NUMBERS}
    compared: list[Comparison] = []
    part = _taking_part(frames)
    for scene in _scenes(part):
        units = _units(scene)
        for unit in units:
            low, high = unit.low + unit.expected, unit.high + unit.expected
            _write(out, unit, light_min_ev100=low, light_max_ev100=high)
        for one in comparisons(units):
            _write(
                out,
                one.unit,
                scene_light_ev100=(one.against.low + one.against.high) / 2 + one.unit.expected,
                light_residual_stops=one.residual,
                light_tolerance_stops=one.tolerance,
            )
            compared.append(one)
    slips = _slips(compared, kit)
    mended = [slips[label].change if label in slips else 0.0 for label in part.index]
    beside = against_neighbours(part.assign(slipped=mended), kit)
    cells: dict[str, Mapping[object, object]] = {**out}
    cells["unit_slip"] = {label: slip.words for label, slip in slips.items()}
    cells |= {name: {label: row[name] for label, row in beside.items()} for name in NEIGHBOURS}
    told = filled(frames, {name: map(values.get, frames.index) for name, values in cells.items()})
    return told.copy()  # in one piece; else each step after it pays for it


def _write(out: dict[str, dict[object, float]], unit: Unit, **values: float) -> None:
    """The same values for every row of a unit."""
    for name, value in values.items():
        out[name].update(dict.fromkeys(unit.rows, value))


_NUMBERS = [
    "light_min_ev100",
    "light_max_ev100",
    "scene_light_ev100",
    "light_residual_stops",
    "light_tolerance_stops",
]


def _taking_part(frames: pd.DataFrame) -> pd.DataFrame:
    declared = frames["declaration"].isin(["worn", "bare"]) & (frames["declaration_source"] == "photographer")
    part = frames[declared & frames["ev100"].notna() & ~lit_otherwise(frames)]
    # In manual exposure the compensation is only the meter's reading.
    bias = part["exposure_bias_stops"].fillna(0.0).where(part["exposure_program"] != "manual", 0.0)
    scene = part["scene"].astype(object).where(part["scene"].notna(), part["frame"])
    bracket = part["bracket"].astype(object).where(part["bracket"].notna(), part["frame"])
    minute = moments(frames).loc[part.index].astype("int64") / 60e6
    minute = minute.where(part["captured_at"].notna(), 0.0)
    return part.assign(
        base=part["ev100"] + bias,
        minute=minute,
        judged_with=scene,
        counted_with=bracket,
        expected=_expected_change(part, scene),
    )


def lit_otherwise(frames: pd.DataFrame) -> pd.Series:
    """Whether the exposure as written does not tell the light: a flash, or several exposures in one."""
    told = frames[["flash_fired", "composite"]].fillna(False).astype(bool)
    return told.any(axis=1)


def _expected_change(part: pd.DataFrame, scene: pd.Series) -> pd.Series:
    """By how much the sun's light is to differ from its middle over the scene; 0 where no sun is known."""
    sky = part["sky_ev100"]
    whole = sky.notna().groupby(scene).transform("all")
    return (sky - sky.groupby(scene).transform("median")).where(whole, 0.0)


_USED = (
    *("base", "minute", "expected", "judged_with", "counted_with"),
    *("even_stops_min", "even_stops_max", "grad_stops", "filters", "rig"),
)
Rows = list[tuple[object, dict[str, Any]]]


def _scenes(part: pd.DataFrame) -> list[Rows]:
    """The rows (label, cells) of each scene, of those that take part."""
    found: dict[str, Rows] = defaultdict(list)
    for label, row in zip(part.index, records(part, _USED), strict=True):
        found[row["judged_with"]].append((label, row))
    return [found[name] for name in sorted(found)]


def _units(scene: Rows) -> list[Unit]:
    """The units of a scene in order of time."""
    members: dict[str, Rows] = defaultdict(list)
    for label, row in scene:
        members[row["counted_with"]].append((label, row))
    return sorted(map(_unit, members.values()), key=lambda u: (u.minute, str(u.rows[0])))


def _unit(members: Rows) -> Unit:
    """One frame, or a bracket by its middle; of an even number either of the two in the middle may be it."""
    base, first = sorted(row["base"] for _, row in members), members[0][1]
    least, most, grads = first["even_stops_min"], first["even_stops_max"], first["grad_stops"]
    return Unit(
        rows=tuple(label for label, _ in members),
        minute=first["minute"],
        low=base[(len(base) - 1) // 2] + least - first["expected"],
        high=base[len(base) // 2] + most + grads - first["expected"],
        even_max=most + grads / 100,
        filters=tuple(first["filters"]),
        rig=first["rig"],
        expected=first["expected"],
    )


@dataclass(frozen=True)
class _Slip:
    """Another unit of a filter's strength: in words, and by how many stops it costs more."""

    words: str
    change: float


MOST = 2 / 3
"""Share of a filter's comparisons that must be off, and come right: on a few of its frames something else may
be wrong as well, a declaration or a cloud."""


def _slips(compared: list[Comparison], kit: Kit) -> dict[object, _Slip]:
    """By row, filters most of whose comparisons go wrong and would come right in another unit of strength."""
    found: dict[object, _Slip] = {}
    for item in kit.filters:
        worn = [c for c in compared if item.id in c.unit.filters and item.id not in c.against.filters]
        wrong = sum(abs(c.residual) > c.tolerance for c in worn)
        if not worn or wrong < MOST * len(worn):
            continue
        for stops, words in _other_readings(item):
            change = stops - item.loss_stops[0]
            right = sum(_moved(c.unit, change).fits(c.against) for c in worn)
            if right >= MOST * len(worn) and _left(worn, change) < _left(worn, -item.loss_stops[0]):
                slip = _Slip(words, change)
                found.update(dict.fromkeys((row for c in worn for row in c.unit.rows), slip))
                break
    return found


def _left(worn: list[Comparison], change: float) -> float:
    """What is left of the residuals with so many stops more on; without the filter it may be less still."""
    return float(np.median([abs(_moved(c.unit, change).residual(c.against)) for c in worn]))


def _moved(unit: Unit, change: float) -> Unit:
    return replace(unit, low=unit.low + change, high=unit.high + change)


def _other_readings(item: Filter) -> list[tuple[float, str]]:
    """(stops, words) for each other unit in which the typed number could have been meant."""
    if item.kind != "neutral":
        return []
    typed_as = next((k for k in _UNITS if getattr(item, k) is not None), None)
    if typed_as is None:
        return []
    value = float(getattr(item, typed_as))
    readings = {
        "stops": value,
        "density": float(stops_from_density(value)),
        "factor": float(stops_from_factor(value)) if value >= 1 else math.nan,
    }
    low, high = SLIP_STOPS
    message = marked(
        'filter "{filter_name}" says {typed_key} = {value_written}; as {unit} it would cost {stops:.2f} stops'
    )
    typed = {"filter_name": item.id, "typed_key": typed_as, "value_written": f"{value:g}"}
    return [
        (stops, say(message, unit=_UNITS[unit], stops=stops, **typed))
        for unit, stops in readings.items()
        if unit != typed_as and low <= stops <= high
    ]
