"""Whether the measured strength of a filter changes with the years."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.season.interval import Trend, trend

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

LEAST = 3
"""Archives that a drift takes."""


@dataclass(frozen=True)
class Measured:
    """A filter's strength in one archive: day (ISO 8601, "" unknown), strength and 95 % range [stop]."""

    archive: int
    day: str
    stops: float
    err_stops: float
    frames: int


@dataclass(frozen=True)
class Drift:
    """A filter over the years. `trend` is None where no drift can be measured.

    `code` is drifts, steady (no drift beyond its own range), few (fewer than LEAST), timeless, or at-once
    (within LEAST_YEARS).
    """

    filter: str
    measured: tuple[Measured, ...]
    trend: Trend | None
    code: str


_MEASURED = """
SELECT filter, archive, strftime(measured_at, '%Y-%m-%d'), epoch(measured_at) / 31557600, stops,
    err_stops, frames
FROM measurements ORDER BY filter, measured_at NULLS LAST, archive"""
"""A year is 365.25 days."""


def drifts(database: DuckDBPyConnection) -> tuple[Drift, ...]:
    """Every filter that was measured, those that drift first."""
    rows: dict[str, list[tuple[Measured, float | None]]] = {}
    for name, archive, day, year, stops, err, frames in database.execute(_MEASURED).fetchall():
        rows.setdefault(name, []).append((Measured(archive, day or "", stops, err, frames), year))
    found = [_drift(name, one) for name, one in rows.items()]
    return tuple(sorted(found, key=lambda one: (one.code != "drifts", one.trend is None, one.filter)))


def _drift(name: str, rows: list[tuple[Measured, float | None]]) -> Drift:
    timed = [(one, year) for one, year in rows if year is not None]
    years = [year for _, year in timed]
    found = trend(years, [one.stops for one, _ in timed], [one.err_stops for one, _ in timed])
    if found is not None:
        code = "drifts" if abs(found.slope) > found.slope_err else "steady"
    elif len(rows) < LEAST:
        code = "few"
    else:
        code = "timeless" if len(timed) < LEAST else "at-once"
    return Drift(name, tuple(one for one, _ in rows), found, code)
