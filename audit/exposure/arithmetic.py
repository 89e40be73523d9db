"""Times beyond the camera's own dial against the arithmetic: the time without filters, doubled for each stop.

The time without filters is taken from a frame of the same scene that was taken without. Which one the
photographer reckoned from is not known: of the last few before the exposure the one that fits best.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from math import log2
from typing import Any, NamedTuple

import pandas as pd

from audit.exposure.light import lit_otherwise
from audit.exposure.references import DRIFT_STOPS_PER_MIN
from audit.exposure.scenes import moments
from audit.exposure.shots import BULB_S
from audit.kit.kit import Filter, Kit, ScrewIn
from audit.message.figures import duration
from audit.message.text import figure, joined, say
from audit.optics.density import density_from_stops, stops_from_density, trade_stops
from audit.optics.exposure import compensated_time_s
from audit.table.columns import filled, records

TRADE_DENSITY = 0.3
"""Density that the trade counts as one stop."""
SAME_S = 0.02
"""Times that differ by less than this fraction are told once."""


@dataclass(frozen=True)
class Readings:
    """`trade` as the trade counts stops (density by 0.3 a stop), `exact` by the density itself."""

    trade: float
    exact: float

    def words(self, start_s: float, more: tuple[float, float], start_words: str) -> str:
        """'1/4 s and 10 stops make 4 min 16 s; density 3.0, 9.97 stops, makes 4 min 10 s'.

        `more` are the least and most stops of what else was worn: a polariser, grads.
        """
        low, high = self.trade + more[0], self.trade + more[1]
        times = [duration(compensated_time_s(start_s, stops)) for stops in (low, high)]
        if high > low:
            return say(
                "{start} and {least:.3g} to {most:.3g} stops make {shortest} to {longest}",
                start=start_words,
                least=low,
                most=high,
                shortest=times[0],
                longest=times[1],
            )
        said = say("{start} and {stops:.3g} stops make {time}", start=start_words, stops=low, time=times[0])
        exact = self.exact + more[0]
        if abs(2 ** (exact - low) - 1) < SAME_S or more[0] > 0:
            return said
        density = figure(f"{density_from_stops(exact):.2f}".removesuffix("0"))
        time = duration(compensated_time_s(start_s, exact))
        by_density = say(
            "density {density}, {stops:.2f} stops, makes {time}", density=density, stops=exact, time=time
        )
        return joined([said, by_density])

    def beyond(self, stops: float, more: tuple[float, float]) -> float:
        """How far some stops lie above (+) or below (-) every reading; 0 between them."""
        low, high = min(self.trade, self.exact) + more[0], max(self.trade, self.exact) + more[1]
        return max(0.0, stops - high) - max(0.0, low - stops)


def readings(filters: Iterable[str], kit: Kit) -> Readings:
    """The readings of the marks of the neutrals among some filters (ids)."""
    parts = [kit.filter(name) or kit.between(name) for name in filters]
    both = [_both(p) for p in parts if isinstance(p, Filter | ScrewIn) and p.kind in ("neutral", "other")]
    return Readings(float(sum(trade for trade, _ in both)), float(sum(exact for _, exact in both)))


def _both(part: Filter | ScrewIn) -> tuple[float, float]:
    """Stops by the trade and by the density of one filter, whichever of the two it is marked in."""
    if part.density is not None:
        return float(trade_stops(part.density)), part.loss_stops[0]
    if part.factor is not None:
        return round(3 * part.loss_stops[0]) / 3, part.loss_stops[0]
    stops = part.loss_stops[0]
    return stops, float(stops_from_density(TRADE_DENSITY * stops))


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
