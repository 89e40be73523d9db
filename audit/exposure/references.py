"""Which units of a scene are compared with which, and what metering and passing time explain."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass, replace
from statistics import median

METERING_STOPS = 1.0
"""Spread between well exposed frames of one scene that metering explains (common practice, no source)."""
DRIFT_STOPS_PER_MIN = 0.1
"""How fast daylight may change within a scene, stops per minute (common practice, no source)."""
POOLED = 3
"""Reference units nearest in time whose median is compared with: one alone doubles the metering's scatter."""
NARROW_STOPS = 1.0
"""A unit whose own range is wider (a grad's) says too little to lead from one rig to another."""


@dataclass(frozen=True)
class Unit:
    """What counts once in a scene: a frame, or a bracket by its middle.

    `low` and `high` are the light it implies, less `expected`: the sun's own change within the scene.
    """

    rows: tuple[object, ...]
    minute: float
    low: float
    high: float
    even_max: float
    filters: tuple[str, ...]
    rig: str
    expected: float = 0.0

    def residual(self, other: Unit) -> float:
        """How far this unit's light lies above (+) or below (-) the other's range; 0 where they overlap."""
        return max(0.0, self.low - other.high) - max(0.0, other.low - self.high)

    def tolerance(self, other: Unit) -> float:
        """What metering and the time between the two can explain, stops."""
        return METERING_STOPS + DRIFT_STOPS_PER_MIN * abs(self.minute - other.minute)

    def fits(self, other: Unit) -> bool:
        """Whether the two can show one light."""
        return abs(self.residual(other)) <= self.tolerance(other)


@dataclass(frozen=True)
class Comparison:
    """A unit against the reference of its scene. `against` stands for up to `POOLED` units of one rig."""

    unit: Unit
    against: Unit
    residual: float
    tolerance: float


def comparisons(units: list[Unit]) -> list[Comparison]:
    """Each unit, in order of time, with the reference it is judged by; a scene of one unit says nothing.

    The reference is the least filtered rig: the median of its units nearest in time, without those that
    most of the others contradict. A unit beyond its tolerance is still explained where the light came there
    step by step, as at dusk: its residual is then its tolerance.
    """
    least = min(u.even_max for u in units)
    reference = [u for u in units if u.even_max == least]
    middle = median((u.low + u.high) / 2 for u in reference)
    agreed = [u for u in reference if u.low - METERING_STOPS <= middle <= u.high + METERING_STOPS]
    found = []
    for unit in units:
        others = _nearest(unit, agreed) or _nearest(unit, reference)
        if others:
            against = _pooled(others)
            found.append(Comparison(unit, against, unit.residual(against), unit.tolerance(against)))
    settled = {c.unit.rows for c in found if abs(c.residual) <= c.tolerance}
    led = _led(units, settled) | _led(reversed(units), settled)
    return [
        replace(c, tolerance=max(c.tolerance, abs(c.residual))) if c.unit.rows in led else c for c in found
    ]


def _nearest(unit: Unit, known: list[Unit]) -> list[Unit]:
    """Up to `POOLED` others of `known`, which is in order of time, that are nearest in time."""
    place = bisect_left(known, unit.minute, key=lambda u: u.minute)
    near = [u for u in known[max(0, place - POOLED) : place + POOLED + 1] if u is not unit]
    return sorted(near, key=lambda u: abs(u.minute - unit.minute))[:POOLED]


def _pooled(units: list[Unit]) -> Unit:
    """One unit that stands for several of one rig."""
    low, high, minute = (median(getattr(u, name) for u in units) for name in ("low", "high", "minute"))
    return replace(units[0], rows=(), low=low, high=high, minute=minute)


def _led(units: Iterable[Unit], settled: set[tuple[object, ...]]) -> set[tuple[object, ...]]:
    """Rows of the units that agree with one before them, which fits the reference or was led to likewise.

    The one before is the last of the same rig, or the last of any rig that says one light.
    """
    last: dict[str, Unit] = {}
    led = set()
    for unit in units:
        before = [last[key] for key in (f"rig {unit.rig}", "any") if key in last]
        if any(unit.fits(other) for other in before):
            led.add(unit.rows)
        elif unit.rows not in settled:
            continue
        last[f"rig {unit.rig}"] = unit
        if unit.high - unit.low <= NARROW_STOPS:
            last["any"] = unit
    return led
