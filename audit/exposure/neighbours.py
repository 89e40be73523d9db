"""The light that a run of frames implies, against the runs before and after it on the same body.

One scene alone says little: the frames of it may all wear one rig, clouds pass, the camera is turned. So
each run of frames is held against the nearest runs before and after it, of this setup and of others, and
the scatter of these differences over the whole trip says what counts as far.
"""

from __future__ import annotations

import heapq
import math
from collections import defaultdict
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from statistics import median
from typing import Any

import numpy as np
import pandas as pd

from audit.exposure.rig_runs import Run, runs_of, seconds
from audit.kit.kit import Kit
from audit.table.column import missing
from audit.table.columns import records

NEAREST, REACH_MIN = 3, 20.0
"""Runs before and after that a run is held against, and how far in time they may lie."""
# Variances in stops squared, chosen on the tuning half of benchmarks/world.
SAME_SETUP_VAR, OTHER_SETUP_VAR = 0.5, 1.0
"""Metering and framing between two runs of one setup, and of two: other pictures of other things."""
WEATHER_VAR_PER_MIN, DUSK_STOPS_PER_MIN = 0.02, 0.03
"""What clouds add with time, and the sun's own change where no place is known."""
SKY_VAR = 2.25
"""Weather and framing between a run and the clear sky, less what the whole trip differs from it."""
LEAST_RUNS = 5
"""From so many runs on a trip tells its own scatter, and how it lies under the clear sky."""
USUAL_SPREAD = 1.0
"""Scatter taken where the trip cannot tell it, stops; also the least (tuning half: 1.1)."""
MOST_SPREAD = 2.0
"""A trip in which more runs than not are off further hides nothing by it."""
DOUBTED_STOPS = 3.5
"""A run that lies further off is no witness for others; one in a hundred true ones does (tuning half)."""
MATCH_STOPS, MATCH_MOST = 1.2, 2.2
"""How near filters must come to be named, times the trip's scatter: a quarter of the step, within these."""
SIMPLER_STOPS = 0.7
"""By so much more filters must fit better than fewer."""
LEAST_CHANGE = 1.9
"""Fewer stops than a light neutral's are weather, not filters."""

COLUMNS = (
    *("neighbour_light_ev100", "neighbour_off_stops", "neighbour_spread_stops"),
    *("neighbour_alike", "neighbour_frames"),
    *("other_stops", "other_filters"),
)
USED = (
    *("frame", "body", "setup", "rig", "minute", "base", "sky_ev100", "bracket", "sequence_of", "slipped"),
    *("even_stops_min", "even_stops_max", "grad_stops", "neutral_stops", "exposure_time_s"),
)


@dataclass(frozen=True)
class Level:
    """A run in numbers: when, the light it implies, how wide its range is, how far its frames differ."""

    run: Run
    start: float
    end: float
    light: float
    half: float
    apart: float
    sky: float


@dataclass(frozen=True)
class Held:
    """A run against its neighbours: `off` above (+) or below (-) their light, beyond its own range."""

    level: Level
    light: float
    off: float
    alike: bool
    near: tuple[int, ...]


def against_neighbours(part: pd.DataFrame, kit: Kit) -> dict[object, dict[str, Any]]:
    """The cells of COLUMNS by row, for frames whose declaration and exposure tell the light."""
    part = part[part["captured_at"].notna() & part["body"].notna()]
    part = part.assign(**{name: None for name in USED if name not in part})
    part = part.sort_values(["body", "minute", "counter", "frame"], kind="stable")
    levels = [_level(run) for run in runs_of(zip(part.index, records(part, USED), strict=True))]
    weather = [level.light - level.sky for level in levels if not math.isnan(level.sky)]
    usual = float(np.median(weather)) if len(weather) >= LEAST_RUNS else math.nan
    held, doubted = _all_held(levels, usual)
    spread = _spread([abs(one.off) for place, one in held.items() if place not in doubted])
    sums = _sums(kit)
    cells: dict[object, dict[str, Any]] = {}
    for one in held.values():
        other = _other(one, spread, sums)
        frames = tuple(levels[place].run.first["frame"] for place in one.near)
        values = (one.light, one.off, spread, one.alike, frames, *other)
        row = dict(zip(COLUMNS, values, strict=True))
        cells.update(dict.fromkeys((label for label, _ in one.level.run.rows), row))
    return cells


def _level(run: Run) -> Level:
    first, last = run.first, run.last
    sky = [row["sky_ev100"] for _, row in run.rows if not missing(row["sky_ev100"])]
    return Level(
        run=run,
        start=first["minute"],
        end=last["minute"] + seconds(last) / 60,
        light=run.light,
        half=(first["even_stops_max"] + (first["grad_stops"] or 0.0) - first["even_stops_min"]) / 2,
        apart=run.lights[-1] - run.lights[0],
        sky=median(sky) if sky else math.nan,
    )


def _all_held(levels: Sequence[Level], usual: float) -> tuple[dict[int, Held], set[int]]:
    """Each run that has a neighbour, by its place, and the places of those that are no witnesses.

    The one furthest off is doubted first, and what was held against it is held against others: else a wrong
    declaration puts the true ones beside it in doubt.
    """
    doubted: set[int] = set()
    found: dict[int, Held] = {}
    furthest: list[tuple[float, int]] = []
    held_by: dict[int, set[int]] = defaultdict(set)

    def hold(place: int) -> None:
        one = _held(levels, place, doubted, usual) or found.get(place)
        if one is not None:
            found[place] = one
            heapq.heappush(furthest, (-abs(one.off), place))
            for other in one.near:
                held_by[other].add(place)

    for place in range(len(levels)):
        hold(place)
    while furthest and -furthest[0][0] > DOUBTED_STOPS:
        size, place = heapq.heappop(furthest)
        if place in doubted or -size != abs(found[place].off):
            continue  # held anew in the meantime
        doubted.add(place)
        for other in sorted(held_by[place]):
            hold(other)
    return found, doubted


def _held(levels: Sequence[Level], place: int, doubted: Container[int], usual: float) -> Held | None:
    """One run against the light by its neighbours and the sky; None where there is no neighbour."""
    own = levels[place]
    places = tuple(_near(levels, place, doubted)) or tuple(_near(levels, place, ()))
    near = [levels[p] for p in places]
    if not near:
        return None
    lights = [other.light + _risen(own, other) for other in near]
    variances = [_variance(own, other) for other in near]
    if not math.isnan(own.sky + usual):
        lights, variances = [*lights, own.sky + usual], [*variances, SKY_VAR]
    light = _weighted_median(np.array(lights), 1 / np.array(variances))
    apart = own.light - light
    off = math.copysign(max(0.0, abs(apart) - own.half), apart)
    alike = any(_same(own, other) for other in near)
    return Held(own, light, off, alike, places)


def _same(own: Level, other: Level) -> bool:
    """Whether only the exposure tells two runs apart: they may be parts of one set."""
    first, second = own.run.first, other.run.first
    return bool(first["setup"] == second["setup"] and first["rig"] == second["rig"])


def _near(levels: Sequence[Level], place: int, doubted: Container[int]) -> Iterator[int]:
    """Places of the nearest few before and after that are not doubted."""
    for step in (-1, 1):
        found, other = 0, place + step
        while 0 <= other < len(levels) and found < NEAREST and _beside(levels[place], levels[other]):
            if other not in doubted:
                found += 1
                yield other
            other += step


def _beside(own: Level, other: Level) -> bool:
    return other.run.first["body"] == own.run.first["body"] and _minutes(own, other) <= REACH_MIN


def _minutes(own: Level, other: Level) -> float:
    """From the end of the one to the start of the other."""
    return max(0.0, own.start - other.end, other.start - own.end)


def _risen(own: Level, other: Level) -> float:
    """By how much the clear sky is brighter at a run than at the other; 0 where it is not known."""
    risen = own.sky - other.sky
    return 0.0 if math.isnan(risen) else risen


def _variance(own: Level, other: Level) -> float:
    """What may differ between two runs, stops squared."""
    minutes = _minutes(own, other)
    same = own.run.first["setup"] == other.run.first["setup"]
    dusk = DUSK_STOPS_PER_MIN * minutes if math.isnan(own.sky + other.sky) else 0.0
    wide = other.half**2 / 3 + (0.15 * min(other.apart, 3.0)) ** 2
    return (SAME_SETUP_VAR if same else OTHER_SETUP_VAR) + WEATHER_VAR_PER_MIN * minutes + dusk**2 + wide


def _weighted_median(values: np.ndarray[Any, Any], weights: np.ndarray[Any, Any]) -> float:
    """Between the two in the middle: a neighbour that is itself declared wrongly moves it little."""
    order = np.argsort(values, kind="stable")
    share = (np.cumsum(weights[order]) - weights[order] / 2) / weights.sum()
    return float(np.interp(0.5, share, values[order]))


def _spread(sizes: Sequence[float]) -> float:
    """The scatter that runs of this trip show, robust against some wrong declarations."""
    if len(sizes) < LEAST_RUNS:
        return USUAL_SPREAD
    return min(MOST_SPREAD, max(USUAL_SPREAD, 1.4826 * float(np.median(sizes))))


def _sums(kit: Kit) -> list[tuple[float, tuple[str, ...]]]:
    """Stops of nothing, each neutral, and each two of the kit."""
    parts = [p for p in (*kit.filters, *kit.screw_ins) if p.kind == "neutral"]
    sets = [some for count in (0, 1, 2) for some in combinations(parts, count)]
    return [(sum(p.loss_stops[0] for p in some), tuple(p.id for p in some)) for some in sets]


def _other(
    one: Held, spread: float, sums: Sequence[tuple[float, tuple[str, ...]]]
) -> tuple[float, tuple[str, ...]]:
    """The neutrals of the kit that would bring a run into line with its neighbours: stops and ids."""
    declared = one.level.run.first["neutral_stops"] or 0.0
    apart = one.level.light - one.light
    room = spread * min(MATCH_MOST, max(MATCH_STOPS, abs(apart) / 4)) + one.level.half
    fitting = [
        (abs(apart + stops - declared) + SIMPLER_STOPS * len(ids), stops, ids)
        for stops, ids in sums
        if abs(stops - declared) >= LEAST_CHANGE and (stops - declared) * apart < 0
    ]
    fitting = [one for one in fitting if one[0] - SIMPLER_STOPS * len(one[2]) <= room]
    _, stops, ids = min(fitting, default=(math.inf, math.nan, ()))
    return stops, ids
