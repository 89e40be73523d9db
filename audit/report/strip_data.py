"""What the time strip shows of each frame, and what it may show of the expected light.

The expected light is private (its curve tells where the sun stood, so where one stood): here it is rounded to
the hour and to the whole stop, which leaves a guess of several hundred kilometres.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

import pandas as pd

from audit.report.days import day_of
from audit.report.links import Link
from audit.report.words import known, text, texts
from audit.table.columns import records

APART_H = 0.5
"""A filter that is seen again within this time on the same body was worn all the while."""


@dataclass(frozen=True)
class StripFrame:
    """One frame on the strip; `hour` counts from midnight, `lasts_h` is the exposure, None is not known."""

    name: str
    words: str
    body: str
    hour: float
    lasts_h: float
    ev100: float | None
    sky_ev100: float | None
    filters: tuple[str, ...]
    level: str


@dataclass(frozen=True)
class DayLight:
    """The frames of a day in order of time."""

    day: str
    shots: tuple[StripFrame, ...]


def day_lights(frames: pd.DataFrame, levels: Sequence[str], links: Mapping[str, Link]) -> list[DayLight]:
    """Days in order; frames without a time are in none. `levels` are the worst of each row."""
    days: dict[str, list[StripFrame]] = {}
    for row, level in zip(records(frames, _USED), levels, strict=True):
        if known(row["captured_at"]):
            shot = _shot(row, level, links)
            days.setdefault(day_of(row["captured_at"]), []).append(shot)
    return [DayLight(day, tuple(sorted(days[day], key=lambda s: (s.hour, s.name)))) for day in sorted(days)]


_USED = ("captured_at", "frame", "exposure_time_exact_s", "body", "ev100", "sky_ev100", "filters")


def _shot(row: Mapping[str, Any], level: str, links: Mapping[str, Link]) -> StripFrame:
    at = pd.Timestamp(row["captured_at"])
    name = text(row["frame"])
    lasts_s = _number(row["exposure_time_exact_s"]) or 0.0
    return StripFrame(
        name=name,
        words=links[name].text if name in links else name,
        body=text(row["body"]),
        hour=at.hour + at.minute / 60 + at.second / 3600,
        lasts_h=lasts_s / 3600,
        ev100=_number(row["ev100"]),
        sky_ev100=_number(row["sky_ev100"]),
        filters=tuple(texts(row["filters"])),
        level=level,
    )


def _number(value: Any) -> float | None:
    return float(value) if known(value) else None


def sky_steps(day: DayLight) -> list[tuple[int, int]]:
    """(hour, EV100) of the expected light where it is known: the hour's median, a whole stop."""
    hours: dict[int, list[float]] = {}
    for shot in day.shots:
        if shot.sky_ev100 is not None:
            hours.setdefault(int(shot.hour), []).append(shot.sky_ev100)
    return [(hour, round(median(values))) for hour, values in sorted(hours.items())]


def worn_spans(day: DayLight) -> dict[str, list[tuple[float, float]]]:
    """Filter to its spans in hours, the filter on most frames first.

    A span ends with the last frame that wore it, before the same body shot without it or paused.
    """
    spans: dict[str, list[tuple[float, float]]] = {}
    often: dict[str, int] = {}
    worn_now: dict[str, dict[str, int]] = {}
    for shot in day.shots:
        before = worn_now.get(shot.body, {})
        now: dict[str, int] = {}
        for name in dict.fromkeys(shot.filters):
            often[name] = often.get(name, 0) + 1
            held = spans.setdefault(name, [])
            end = shot.hour + shot.lasts_h
            if name in before and shot.hour - held[before[name]][1] <= APART_H:
                now[name] = before[name]
                held[now[name]] = (held[now[name]][0], max(held[now[name]][1], end))
            else:
                held.append((shot.hour, end))
                now[name] = len(held) - 1
        worn_now[shot.body] = now
    return {name: spans[name] for name in sorted(spans, key=lambda n: (-often[n], n))}
