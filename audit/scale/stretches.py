"""Which folders of a shelf belong together: those between which a camera went on taking pictures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import pandas as pd

from audit.exposure.partitions import Joined

GAP_MIN = 180.0
"""Pause after which nothing of an audit looks back: a scene ends after 10 minutes, a run of the estimate of
filters after 150; the rest is for exposures of minutes."""
_GAP = timedelta(minutes=GAP_MIN)


@dataclass(frozen=True, order=True)
class Stretch:
    """A time without a longer pause in which one camera took pictures; `clock` is "local" or "UTC"."""

    clock: str
    camera: tuple[str, str]
    begins: datetime
    ends: datetime


def stretches(frames: pd.DataFrame) -> list[Stretch]:
    """The stretches of a scanned table, by the clock of the camera and, where it tells its zone, by UTC.

    A camera is its model and serial number; one without a number is known by its model alone. A frame
    without a time is in none. Sorted once: the work grows with the number of frames.
    """
    timed = frames[frames["captured_at"].notna()]
    offset = pd.to_timedelta(timed["utc_offset_min"].astype("Float64").astype("float64"), unit="min")
    by_clock = {"local": timed["captured_at"], "UTC": (timed["captured_at"] - offset).dropna()}
    return [one for clock, times in by_clock.items() for one in _of_clock(clock, times, timed)]


def _of_clock(clock: str, times: pd.Series, frames: pd.DataFrame) -> Iterator[Stretch]:
    cameras = frames.loc[times.index, ["model", "body_serial"]].astype(object).fillna("")
    for camera, of_one in times.groupby([cameras["model"].str.casefold(), cameras["body_serial"]], sort=True):
        at = of_one.sort_values()
        number = (at.diff() > _GAP).cumsum()
        ends = at.groupby(number).agg(["min", "max"])
        for begin, end in zip(ends["min"], ends["max"], strict=True):
            model, serial = map(str, camera)
            yield Stretch(clock, (model, serial), begin.to_pydatetime(), end.to_pydatetime())


def together(of: Mapping[str, Sequence[Stretch]]) -> list[list[str]]:
    """The folders of each trip: smallest sets between which no camera's pause is shorter than `GAP_MIN`.

    `of` are the stretches of each folder. The trips come in the order of their first folders' names.
    """
    joined = Joined()
    told = sorted((stretch, folder) for folder, some in of.items() for stretch in some)
    before: Stretch | None = None
    last, until = "", datetime.min
    for stretch, folder in told:
        same = before is not None and (before.clock, before.camera) == (stretch.clock, stretch.camera)
        if same and stretch.begins - until <= _GAP:
            joined.join(last, folder)
        until = max(until, stretch.ends) if same else stretch.ends
        before, last = stretch, folder
    found: dict[str, list[str]] = {}
    for folder in sorted(of):
        found.setdefault(joined.first(folder), []).append(folder)
    return list(found.values())
