"""The light of a scene that exposure and declared filters imply, frame against frame.

A frame exposed at ev100 through filters that cost S stops, with compensation b, says that the scene
had the light ev100 + b + S. Frames of one scene should agree on it, whatever they wore.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from audit.model.kit import Filter, Kit
from audit.optics.density import stops_from_density, stops_from_factor

METERING_STOPS = 1.0
"""Spread between well exposed frames of one scene that metering explains (common practice, no source)."""
DRIFT_STOPS_PER_MIN = 0.1
"""How fast daylight may change within a scene, stops per minute (common practice, no source)."""
SLIP_STOPS = (0.2, 17.0)
"""A slip of unit must leave a strength that filters are made in."""


@dataclass(frozen=True)
class Unit:
    """What counts once in a scene: a frame, or a bracket by its middle."""

    rows: tuple[object, ...]
    minute: float
    low: float
    high: float
    even_max: float
    filters: tuple[str, ...]
    rig: str

    def residual(self, other: Unit) -> float:
        """How far this unit's light lies above (+) or below (-) the other's range; 0 where they overlap."""
        return max(0.0, self.low - other.high) - max(0.0, other.low - self.high)

    def tolerance(self, other: Unit) -> float:
        """What metering and the time between the two can explain, stops."""
        return METERING_STOPS + DRIFT_STOPS_PER_MIN * abs(self.minute - other.minute)


def add_light(frames: pd.DataFrame, kit: Kit) -> pd.DataFrame:
    """Fills the light columns and `unit_slip`.

    Only frames with a photographer's declaration (worn or bare), an ev100 and no flash take part. In
    each scene the least filtered rig is the reference; every other unit is compared with the unit of
    it that is nearest in time. Estimated declarations are left out: they came from the exposures.
    """
    out = {name: pd.Series(np.nan, index=frames.index) for name in _NUMBERS}
    slip = pd.Series(None, index=frames.index, dtype="str")
    compared: list[tuple[Unit, Unit]] = []
    for _, run in _taking_part(frames).groupby("judged_with", sort=True):
        units = _units(run)
        for unit in units:
            out["light_min_ev100"].loc[list(unit.rows)] = unit.low
            out["light_max_ev100"].loc[list(unit.rows)] = unit.high
        for unit, against in _comparisons(units):
            rows = list(unit.rows)
            out["scene_light_ev100"].loc[rows] = (against.low + against.high) / 2
            out["light_residual_stops"].loc[rows] = unit.residual(against)
            out["light_tolerance_stops"].loc[rows] = unit.tolerance(against)
            compared.append((unit, against))
    for rows, words in _slips(compared, kit):
        slip.loc[rows] = words
    return frames.assign(**out, unit_slip=slip)


_NUMBERS = [
    "light_min_ev100",
    "light_max_ev100",
    "scene_light_ev100",
    "light_residual_stops",
    "light_tolerance_stops",
]


def _taking_part(frames: pd.DataFrame) -> pd.DataFrame:
    declared = frames["declaration"].isin(["worn", "bare"]) & (frames["declaration_source"] == "photographer")
    part = frames[declared & frames["ev100"].notna() & ~frames["flash_fired"].fillna(False).astype(bool)]
    # In manual exposure the compensation is only the meter's reading.
    bias = part["exposure_bias_stops"].fillna(0.0).where(part["exposure_program"] != "manual", 0.0)
    scene = part["scene"].astype(object).where(part["scene"].notna(), part["frame"])
    return part.assign(base=part["ev100"] + bias, judged_with=scene)


def _units(run: pd.DataFrame) -> list[Unit]:
    bracket = run["bracket"].astype(object).where(run["bracket"].notna(), run["frame"])
    units = []
    for _, members in run.groupby(bracket, sort=True):
        first = members.iloc[0]
        base = float(members["base"].median())
        units.append(
            Unit(
                rows=tuple(members.index),
                minute=first["captured_at"].timestamp() / 60 if pd.notna(first["captured_at"]) else 0.0,
                low=base + first["even_stops_min"],
                high=base + first["even_stops_max"] + first["grad_stops"],
                even_max=first["even_stops_max"] + first["grad_stops"] / 100,
                filters=tuple(first["filters"]),
                rig=first["rig"],
            )
        )
    return sorted(units, key=lambda u: (u.minute, str(u.rows[0])))


def _comparisons(units: list[Unit]) -> list[tuple[Unit, Unit]]:
    """Each unit with the one it is judged by; a scene of one unit says nothing."""
    if len(units) < 2:
        return []
    least = min(u.even_max for u in units)
    bare = [u for u in units if u.even_max == least]
    middle = float(np.median([(u.low + u.high) / 2 for u in bare]))
    agreed = [u for u in bare if u.low - METERING_STOPS <= middle <= u.high + METERING_STOPS] or bare
    pairs = []
    for unit in units:
        others = [u for u in agreed if u is not unit] or [u for u in bare if u is not unit]
        if others:
            pairs.append((unit, min(others, key=lambda u: abs(u.minute - unit.minute))))
    return pairs


def _slips(compared: list[tuple[Unit, Unit]], kit: Kit) -> list[tuple[list[object], str]]:
    """Filters whose every comparison goes wrong and would come right in another unit of strength."""
    found = []
    for item in kit.filters:
        worn = [(u, a) for u, a in compared if item.id in u.filters and item.id not in a.filters]
        if not worn or not all(abs(u.residual(a)) > u.tolerance(a) for u, a in worn):
            continue
        for stops, words in _other_readings(item):
            change = stops - item.loss_stops[0]
            if all(abs(_moved(u, change).residual(a)) <= u.tolerance(a) for u, a in worn):
                found.append(([row for u, _ in worn for row in u.rows], words))
                break
    return found


def _moved(unit: Unit, change: float) -> Unit:
    return replace(unit, low=unit.low + change, high=unit.high + change)


def _other_readings(item: Filter) -> list[tuple[float, str]]:
    """(stops, words) for each other unit in which the typed number could have been meant."""
    if item.kind != "neutral":
        return []
    typed_as = next((k for k in ("stops", "density", "factor") if getattr(item, k) is not None), None)
    if typed_as is None:
        return []
    value = float(getattr(item, typed_as))
    readings = {
        "stops": value,
        "density": float(stops_from_density(value)),
        "factor": float(stops_from_factor(value)) if value >= 1 else math.nan,
    }
    low, high = SLIP_STOPS
    return [
        (
            stops,
            f'filter "{item.id}" says {typed_as} = {value:g}; as {unit} it would cost {stops:.2f} stops',
        )
        for unit, stops in readings.items()
        if unit != typed_as and low <= stops <= high
    ]
