"""Times beyond the camera's own dial against the arithmetic: the time without filters, doubled for each stop.

The time without filters is taken from a frame of the same scene that was taken without. Which one the
photographer reckoned from is not known: of the last few before the exposure the one that fits best.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from math import log2
from typing import Any, NamedTuple

import pandas as pd

from audit.measure.light import lit_otherwise
from audit.measure.readings import Readings, readings
from audit.measure.references import DRIFT_STOPS_PER_MIN
from audit.measure.scenes import moments
from audit.measure.shots import BULB_S
from audit.model.columns import filled, records
from audit.model.duration import duration
from audit.model.kit import Kit
from audit.say import joined, say

STRONG_STOPS = 6.0
"""From here on nobody turns the dial stop by stop: the time is reckoned (common practice, no source)."""
LAST_FEW = 3

_COLUMNS = (
    *("reference_frame", "reference_time_s", "reference_f_number", "reference_iso", "reference_minutes"),
    *("arithmetic_words", "arithmetic_off_stops"),
)
_USED = ("scene", "filters", "neutral_stops", "even_stops_min", "even_stops_max", "grad_stops")


class _Shot(NamedTuple):
    """One frame: `at_min` and `middle_min` of its exposure; exact values but for `written_s`."""

    frame: str
    at_min: float
    middle_min: float
    time_s: float
    written_s: float
    f_number: float
    iso: float


@dataclass(frozen=True)
class _Sum:
    """One frame reckoned from one reference."""

    reference: _Shot
    minutes: float
    start_s: float
    off_stops: float

    @property
    def unexplained(self) -> tuple[float, float]:
        """What the light's drift leaves; the nearer in time first among equals."""
        return max(0.0, abs(self.off_stops) - DRIFT_STOPS_PER_MIN * self.minutes), self.minutes


def add_arithmetic(frames: pd.DataFrame, kit: Kit) -> pd.DataFrame:
    """Fills the reference and arithmetic columns of frames longer than 30 s behind 6 stops or more.

    Only what the photographer declared takes part. Null where the scene has no frame without filters.
    """
    part = _usable(frames)
    long = part[(part["exposure_time_exact_s"] > BULB_S) & (part["neutral_stops"] >= STRONG_STOPS)]
    beside = part[part["scene"].isin(long["scene"])]
    clear = _middles(beside[(beside["even_stops_max"] == 0) & (beside["grad_stops"] == 0)])
    known = {scene: _shots(run) for scene, run in clear.groupby("scene", sort=False)}
    found: dict[object, dict[str, Any]] = {}
    for label, row, shot in zip(long.index, records(long, _USED), _shots(long), strict=True):
        references = _near(shot, known.get(row["scene"], []))
        if not references:
            continue
        marks, more = readings(row["filters"], kit), _more(row)
        best = min((_sum(shot, other, marks, more) for other in references), key=lambda s: s.unexplained)
        found[label] = _cells(shot, best, marks, more)
    cells = [found.get(label, {}) for label in frames.index]
    return filled(frames, {name: [row.get(name) for row in cells] for name in _COLUMNS})


def _usable(frames: pd.DataFrame) -> pd.DataFrame:
    """Declared frames of a scene with a whole exposure and no flash, in order of time."""
    said = frames["declaration"].isin(["worn", "bare"]) & (frames["declaration_source"] == "photographer")
    flash = lit_otherwise(frames)
    part = frames[said & frames["ev100"].notna() & frames["scene"].notna() & ~flash]
    at_min = moments(frames)[part.index].astype("int64") / 60e6
    return part.assign(at_min=at_min).sort_values(["at_min", "frame"], kind="stable")


def _middles(clear: pd.DataFrame) -> pd.DataFrame:
    """Of each bracket only the frame in the middle of its exposures."""
    single, members = clear[clear["bracket"].isna()], clear[clear["bracket"].notna()]
    members = members.sort_values("ev100", kind="stable")
    place = members.groupby("bracket").cumcount()
    middle = (members.groupby("bracket")["ev100"].transform("size") - 1) // 2
    return pd.concat([single, members[place == middle]]).sort_values(["at_min", "frame"], kind="stable")


def _shots(part: pd.DataFrame) -> list[_Shot]:
    names = ("frame", "at_min", "exposure_time_exact_s", "exposure_time_s", "f_number_exact", "iso")
    rows = zip(*(part[name].tolist() for name in names), strict=True)
    return [_Shot(frame, at, at + exact / 120, exact, *rest) for frame, at, exact, *rest in rows]


def _near(shot: _Shot, clear: list[_Shot]) -> list[_Shot]:
    """The last few before a frame; where there are none, the first few after it."""
    place = bisect_left(clear, shot.at_min, key=lambda s: s.at_min)
    return clear[max(0, place - LAST_FEW) : place] or clear[place : place + LAST_FEW]


def _more(row: dict[str, Any]) -> tuple[float, float]:
    """Least and most stops of a polariser and grads."""
    least, most = (row[name] - row["neutral_stops"] for name in ("even_stops_min", "even_stops_max"))
    return max(0.0, least), max(0.0, most) + row["grad_stops"]


def _sum(shot: _Shot, other: _Shot, marks: Readings, more: tuple[float, float]) -> _Sum:
    start_s = other.time_s * (shot.f_number / other.f_number) ** 2 * other.iso / shot.iso
    off = marks.beyond(log2(shot.time_s / start_s), more)
    return _Sum(other, abs(shot.middle_min - other.middle_min), start_s, off)


def _cells(shot: _Shot, best: _Sum, marks: Readings, more: tuple[float, float]) -> dict[str, Any]:
    other = best.reference
    begun = duration(other.written_s)
    same = other.f_number == shot.f_number and other.iso == shot.iso
    now, change = begun, ""
    if not same:
        now = duration(best.start_s)
        change = say(
            "{time} at {setting} is {new_time} at {new_setting}",
            time=begun,
            setting=_setting(other),
            new_time=now,
            new_setting=_setting(shot),
        )
    return {
        "reference_frame": other.frame,
        "reference_time_s": other.written_s,
        "reference_f_number": other.f_number,
        "reference_iso": other.iso,
        "reference_minutes": best.minutes,
        "arithmetic_words": joined([change, marks.words(best.start_s, more, now)]),
        "arithmetic_off_stops": best.off_stops,
    }


def _setting(shot: _Shot) -> str:
    return say("f/{f_number:.2g}, ISO {iso:.0f}", f_number=shot.f_number, iso=shot.iso)
