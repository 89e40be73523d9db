"""At dusk the light halves every few minutes, and an exposure set by hand does not know it.

Frames that were right at first come out darker and darker, at dawn brighter and brighter.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from audit.checks._elsewhere import by_hand
from audit.checks._words import stops
from audit.finding import Finding
from audit.message.text import marked, say

ID = "light-drift"
TITLE = "Exposure held while the light moved"
THRESHOLD = (
    "manual exposure held within 0.2 stop, filters as declared counted in, while the light to expect of the "
    "sun's altitude moved by 1 stop and by more than its own error; brackets by their middle"
)
SOURCE = "illuminance of twilight (Explanatory Supplement to the Astronomical Almanac); weather is not known"
ADVICE = "Compare the first and the last frame. At dusk meter again every few minutes."
NEEDS = ("scene", "ev100", "sky_slope_stops_per_min", "sky_slope_err_stops_per_min")
HELD_STOPS, MOVED_STOPS = 0.2, 1.0
USED = (*NEEDS, "frame", "captured_at", "bracket", "rig", "even_stops_min")


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    flash = frames["flash_fired"].fillna(False).astype(bool)
    known = frames["ev100"].notna() & frames["sky_slope_stops_per_min"].notna() & frames["scene"].notna()
    part = frames.loc[by_hand(frames) & known & ~flash & frames["captured_at"].notna(), [*USED]]
    for _, scene in part[_may_move(part)].groupby("scene", sort=True):
        yield from _held(_units(scene))


def _may_move(part: pd.DataFrame) -> pd.Series:
    """Whether the light can move so much within the frame's scene at all: spares the work in most."""
    scenes = part.groupby("scene")
    length_min = (scenes["captured_at"].transform("max") - scenes["captured_at"].transform("min")).dt
    steepest = part["sky_slope_stops_per_min"].abs().groupby(part["scene"]).transform("max")
    may: pd.Series = length_min.total_seconds() / 60 * steepest >= MOVED_STOPS
    return may


def _units(scene: pd.DataFrame) -> pd.DataFrame:
    """One row a frame or bracket in order of time; `members` are its frames."""
    scene = scene.assign(
        level=scene["ev100"] + scene["even_stops_min"].fillna(0.0),
        unit=scene["bracket"].astype(object).where(scene["bracket"].notna(), scene["frame"]),
    ).sort_values(["captured_at", "frame"])
    groups = scene.groupby("unit", sort=False)
    units: pd.DataFrame = groups.first().assign(
        level=groups["level"].median(), members=groups["frame"].agg(tuple), rig=groups["rig"].first()
    )
    return units


def _held(units: pd.DataFrame) -> Iterator[Finding]:
    """Runs of one exposure and rig over which the expected light moved."""
    rig = units["rig"].fillna("")
    changed = units["level"].diff().abs().gt(HELD_STOPS) | rig.ne(rig.shift())
    for _, run in units.groupby(changed.cumsum().to_numpy()):
        minute = (run["captured_at"] - run["captured_at"].iloc[0]).dt.total_seconds().to_numpy() / 60
        moved, err = (
            float(np.trapezoid(run[name].to_numpy(dtype=float), minute))
            for name in ("sky_slope_stops_per_min", "sky_slope_err_stops_per_min")
        )
        if abs(moved) >= MOVED_STOPS and abs(moved) > err and np.ptp(run["level"]) <= HELD_STOPS:
            yield _finding(run, moved, err, float(minute[-1]))


def _finding(run: pd.DataFrame, moved: float, err: float, minutes: float) -> Finding:
    size, by = stops(abs(moved)), {"size": abs(moved), "error": err}
    if moved < 0:
        wanted = say("{amount} more light let in by the end", amount=size)
        change = say("the light fell by {size:.1f} ± {error:.1f} stops", **by)
    else:
        wanted = say("{amount} less light let in by the end", amount=size)
        change = say("the light rose by {size:.1f} ± {error:.1f} stops", **by)
    return Finding(
        ID,
        "look",
        tuple(name for members in run["members"] for name in members),
        seen=say("one exposure for {minutes:.0f} min", minutes=minutes),
        expected=wanted,
        sure=marked("expected of the sun's altitude; weather is not known"),
        advice=ADVICE,
        by=change,
    )
