"""The trip as a time strip: each day a drawing of the light measured, expected light behind, filters beneath.

All days share one scale of hours and one of light, so that they can be held against each other. Geometry
only: coordinates leave here as text, rounded, so that the same trip gives the same drawing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from audit.message.figures import number
from audit.message.text import day as day_words
from audit.message.text import say
from audit.report.coordinates import tenth
from audit.report.strip_data import DayLight, StripFrame, sky_steps, worn_spans
from audit.report.words import span

WIDTH, LEFT, RIGHT = 960, 104, 30
MARKS_HIGH, LIGHT_HIGH, AXIS_HIGH, BAR_HIGH, FOOT = 34, 120, 22, 17, 6
"""Heights of the parts of a day, px of the drawing."""
BIN = 32
"""Width of a mark that can be hit with a finger; findings closer than this share one."""
LEAST_HOURS, LEAST_STOPS = 3, 6
ROOM = 13
"""Letters that fit left of the drawing."""
BARS = 8
"""Filters drawn; a day with more says how many are left out."""


@dataclass(frozen=True)
class Tick:
    """A line of a scale with its words."""

    at: str
    words: str


@dataclass(frozen=True)
class Bar:
    """A filter's row: where its name stands, as far as there is room, and its spans as (x, width)."""

    y: str
    middle: str
    words: str
    short: str
    spans: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Mark:
    """Findings that share one place on the strip; leads to the first of their frames."""

    x: str
    level: str
    anchor: str
    words: str


@dataclass(frozen=True)
class StripView:
    """One day; `worn`, `bare` and `sky` are paths, "" where there is nothing of the kind.

    `first` is the anchor of its first frame, for a day whose frames stand on the page of the day before.
    """

    id: str
    day: str
    height: int
    foot: int
    title: str
    worn: str
    bare: str
    sky: str
    light: tuple[Tick, ...]
    hours: tuple[Tick, ...]
    bars: tuple[Bar, ...]
    left_out: int
    marks: tuple[Mark, ...]
    first: str


class Scale:
    """Hours and light of the whole trip on the drawing."""

    def __init__(self, days: Iterable[DayLight]) -> None:
        shots = [shot for day in days for shot in day.shots]
        self.first, self.last = _hours(shot.hour for shot in shots)
        self.low, self.high = _stops([v for s in shots for v in (s.ev100, s.sky_ev100) if v is not None])

    def x(self, hour: float) -> float:
        """Place of an hour of the day."""
        return LEFT + (hour - self.first) / (self.last - self.first) * (WIDTH - LEFT - RIGHT)

    def y(self, ev100: float) -> float:
        """Height of a light; more light is higher."""
        return MARKS_HIGH + (self.high - ev100) / (self.high - self.low) * LIGHT_HIGH


def strips(days: list[DayLight], anchors: Mapping[str, str]) -> tuple[StripView, ...]:
    """One drawing a day; `anchors` leads from a frame's name to its place in the pages."""
    if not days:
        return ()
    scale = Scale(days)
    return tuple(_strip(day, f"strip-{n}", scale, anchors) for n, day in enumerate(days, start=1))


def _strip(day: DayLight, name: str, scale: Scale, anchors: Mapping[str, str]) -> StripView:
    spans = worn_spans(day)
    bars = _bars(list(spans.items())[:BARS], scale)
    foot = MARKS_HIGH + LIGHT_HIGH
    lit = [(s, s.ev100) for s in day.shots if s.ev100 is not None]
    step = max(2, math.ceil((scale.high - scale.low) / 6 / 2) * 2)
    first = math.ceil(scale.low / step) * step
    return StripView(
        id=name,
        day=day_words(date.fromisoformat(day.day)),
        height=foot + AXIS_HIGH + BAR_HIGH * len(bars) + FOOT,
        foot=foot,
        title=_title(day),
        worn=_dots([(s, ev) for s, ev in lit if s.filters], scale),
        bare=_dots([(s, ev) for s, ev in lit if not s.filters], scale),
        sky=_sky(day, scale),
        light=tuple(Tick(tenth(scale.y(v)), number(v)) for v in range(first, scale.high + 1, step)),
        hours=_clock(scale),
        bars=bars,
        left_out=max(len(spans) - BARS, 0),
        marks=_marks(day, scale, anchors),
        first=anchors.get(day.shots[0].name, ""),
    )


def _title(day: DayLight) -> str:
    lit = [s.ev100 for s in day.shots if s.ev100 is not None]
    first, last = _clock_words(day.shots[0].hour), _clock_words(day.shots[-1].hour)
    hours = first if first == last else say("{first} to {last}", first=first, last=last)
    if not lit:
        return say("{hours}, no light known", hours=hours)
    return say("{hours}, EV100 {light}", hours=hours, light=span(min(lit), max(lit), 0))


def _hours(hours: Iterable[float]) -> tuple[int, int]:
    found = list(hours)
    first, last = math.floor(min(found)), math.ceil(max(found) + 0.01)
    last = min(max(last, first + LEAST_HOURS), 24)
    return min(first, last - LEAST_HOURS), last


def _stops(values: list[float]) -> tuple[int, int]:
    low, high = (math.floor(min(values)), math.ceil(max(values))) if values else (0, 0)
    return low - 1, max(high + 1, low - 1 + LEAST_STOPS)


def _clock(scale: Scale) -> tuple[Tick, ...]:
    step = next(s for s in (1, 2, 3, 6) if (scale.last - scale.first) / s <= 12)
    first = math.ceil(scale.first / step) * step
    return tuple(Tick(tenth(scale.x(h)), f"{h:02d}:00") for h in range(first, scale.last + 1, step))


def _dots(shots: list[tuple[StripFrame, float]], scale: Scale) -> str:
    """Points as lines of no length: a round pen makes a dot of each; equal ones are drawn once."""
    places = dict.fromkeys(f"M{scale.x(s.hour):.0f} {tenth(scale.y(ev))}h0" for s, ev in shots)
    return "".join(places)


def _sky(day: DayLight, scale: Scale) -> str:
    """Expected light, one box an hour, a stop to each side of the whole stop."""
    boxes = []
    for hour, ev100 in sky_steps(day):
        left, right = scale.x(max(hour, scale.first)), scale.x(min(hour + 1, scale.last))
        top, bottom = scale.y(min(ev100 + 1, scale.high)), scale.y(max(ev100 - 1, scale.low))
        boxes.append(f"M{tenth(left)} {tenth(top)}H{tenth(right)}V{tenth(bottom)}H{tenth(left)}Z")
    return "".join(boxes)


def _bars(rows: list[tuple[str, list[tuple[float, float]]]], scale: Scale) -> tuple[Bar, ...]:
    top = MARKS_HIGH + LIGHT_HIGH + AXIS_HIGH
    found = []
    for n, (words, spans) in enumerate(rows):
        y = top + n * BAR_HIGH
        drawn = tuple(
            (tenth(scale.x(a)), tenth(max(scale.x(min(b, scale.last)) - scale.x(a), 4.0))) for a, b in spans
        )
        found.append(Bar(str(y), str(y + BAR_HIGH // 2), words, _short(words), drawn))
    return tuple(found)


def _short(words: str) -> str:
    """What has room left of the drawing; both ends, since ids often differ in either."""
    return words if len(words) <= ROOM else f"{words[: ROOM - 6]}…{words[-5:]}"


def _marks(day: DayLight, scale: Scale, anchors: Mapping[str, str]) -> tuple[Mark, ...]:
    bins: dict[int, list[StripFrame]] = {}
    for shot in (s for s in day.shots if s.level in ("act", "look")):
        bins.setdefault(int((scale.x(shot.hour) - LEFT) // BIN), []).append(shot)
    found = []
    for place, shots in bins.items():
        worst = min(shots, key=lambda s: s.level != "act")
        x = LEFT + place * BIN
        anchor, words = anchors.get(worst.name, ""), _mark_words(worst, len(shots) - 1)
        found.append(Mark(str(x), worst.level, anchor, words))
    return tuple(found)


def _mark_words(worst: StripFrame, more: int) -> str:
    at = {"frame": worst.words, "time": _clock_words(worst.hour)}
    act = worst.level == "act"
    words = say("{frame}, {time}: to act on", **at) if act else say("{frame}, {time}: to look at", **at)
    return say("{first}; {count} more beside it", first=words, count=more) if more else words


def _clock_words(hour: float) -> str:
    minutes = int(hour * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"
