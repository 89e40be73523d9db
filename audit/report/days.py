"""The trip by day and setup: which page each frame stands on, and what is said of each setup."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from audit.message.text import day, joined, marked, plural, say
from audit.report import setup_light
from audit.report.diagram import Drawing
from audit.report.frame_words import body_words
from audit.report.heat import Plate
from audit.report.links import Link
from audit.report.setup_light import LightView
from audit.report.view_frames import FrameView, level_counts
from audit.report.words import LEAST_SHOWN_STOPS, known, span, stops, text
from audit.table.columns import records

FRAMES_A_PAGE = 80
"""A page holds whole setups up to about this many frames, so that it opens at once."""

NO_TIME = "no-time"

Row = Mapping[Any, Any]

USED = (
    "captured_at",
    "setup",
    "body",
    "focal_length_mm",
    "ev100",
    *setup_light.COLUMNS,
)
"""Columns that setups are told by."""


@dataclass(frozen=True)
class SetupView:
    """One setup with its frames in order; `worn` holds (rig, sum of stops, frames).

    `alone` marks frames of no setup, which were not taken side by side; their `light` is None.
    """

    anchor: str
    title: str
    summary: str
    worn: tuple[tuple[str, str, str], ...]
    light: LightView | None
    frames: tuple[FrameView, ...]
    alone: bool = False


@dataclass(frozen=True)
class DayPage:
    """One page: a day, or a part of one; `day` is its date or ""."""

    file: str
    title: str
    day: str
    summary: str
    setups: tuple[SetupView, ...]

    @property
    def frames(self) -> tuple[FrameView, ...]:
        """All frames of the page in order."""
        return tuple(frame for setup in self.setups for frame in setup.frames)

    @property
    def drawings(self) -> tuple[Drawing, ...]:
        """Each drawing that a frame of the page uses, once."""
        found = {f.corner.drawing.id: f.corner.drawing for f in self.frames if f.corner and f.corner.drawing}
        return tuple(found.values())

    @property
    def caution(self) -> bool:
        """Whether a frame of the page was exposed long enough to look about oneself."""
        return any(frame.long for frame in self.frames)

    @property
    def lit(self) -> bool:
        """Whether the light of a setup of the page is drawn."""
        return any(setup.light and setup.light.drawn for setup in self.setups)

    @property
    def plates(self) -> tuple[Plate, ...]:
        """Each map that a frame of the page uses, once."""
        found = {f.pixels.plate.id: f.pixels.plate for f in self.frames if f.pixels and f.pixels.plate}
        return tuple(found.values())


def day_of(value: object) -> str:
    """The date of a frame's clock, "" where there is none."""
    return pd.Timestamp(str(value)).strftime("%Y-%m-%d") if known(value) else ""


def day_words(value: object) -> str:
    """The date of a frame's clock as it is shown, "" where there is none."""
    return day(pd.Timestamp(str(value))) if known(value) else ""


def day_pages(frames: pd.DataFrame, views: Sequence[FrameView]) -> tuple[DayPage, ...]:
    """Days in order of time, frames without one last; setups in order of their first frame."""
    days: dict[str, dict[str, list[int]]] = {}
    order = frames["captured_at"].reset_index(drop=True).sort_values(kind="stable", na_position="last").index
    rows = records(frames, USED)  # once: to ask the table for each setup would take most of the time
    home: dict[str, str] = {}
    for at in order:
        setup, date = text(rows[at]["setup"]), day_of(rows[at]["captured_at"])
        date = home.setdefault(setup, date) if setup else date
        days.setdefault(date, {}).setdefault(setup, []).append(int(at))
    pages: list[DayPage] = []
    judged, counter = setup_light.judged_scenes(frames), 0
    for date, groups in days.items():
        setups = []
        for setup, members in sorted(groups.items(), key=lambda item: item[0] == ""):
            for part in _split(members):
                counter += 1
                found, shown = [rows[n] for n in part], tuple(views[n] for n in part)
                setups.append(_setup(found, shown, f"setup-{counter}", judged, alone=not setup))
        pages.extend(_parts(date, setups))
    return tuple(pages)


def _split(members: list[int]) -> Iterable[list[int]]:
    """A setup of a night's time-lapse is cut too: a page has its limit."""
    return (members[n : n + FRAMES_A_PAGE] for n in range(0, len(members), FRAMES_A_PAGE))


def _parts(date: str, setups: list[SetupView]) -> list[DayPage]:
    sheets: list[list[SetupView]] = [[]]
    for setup in setups:
        held = sum(len(s.frames) for s in sheets[-1])
        if sheets[-1] and held + len(setup.frames) > FRAMES_A_PAGE:
            sheets.append([])
        sheets[-1].append(setup)
    name, title = date or NO_TIME, day_words(date) or marked("Without a time")
    return [
        DayPage(
            f"{name}.html" if n == 1 else f"{name}-part-{n}.html",
            title
            if len(sheets) == 1
            else say("{day}, part {part} of {count}", day=title, part=n, count=len(sheets)),
            date,
            _summary(sheet),
            tuple(sheet),
        )
        for n, sheet in enumerate(sheets, start=1)
    ]


def _summary(setups: list[SetupView]) -> str:
    frames = [frame for setup in setups for frame in setup.frames]
    side_by_side = sum(not setup.alone for setup in setups)
    parts = [plural(len(frames), "{n} frame", "{n} frames")]
    parts += [plural(side_by_side, "{n} setup", "{n} setups")] if side_by_side else []
    return joined([*parts, *level_counts(frames)], ", ")


def _setup(
    rows: Sequence[Row], shown: tuple[FrameView, ...], anchor: str, judged: frozenset[str], *, alone: bool
) -> SetupView:
    title = marked("Frames of no setup") if alone else _title(rows, shown)
    links = [Link(frame.anchor, frame.name) for frame in shown]
    light = None if alone else setup_light.setup_light(rows, links, judged)
    return SetupView(anchor, title, _light(rows, len(shown)), _worn(shown), light, shown, alone)


def _numbers(rows: Sequence[Row], column: str) -> list[float]:
    """What is known of a column."""
    return [float(row[column]) for row in rows if known(row[column])]


def _title(rows: Sequence[Row], shown: tuple[FrameView, ...]) -> str:
    times = [row["captured_at"] for row in rows if known(row["captured_at"])]
    first, last = (f"{at(times):%H:%M}" if times else "" for at in (min, max))
    when = say("{first} to {last}", first=first, last=last) if first != last else first
    focal = _numbers(rows, "focal_length_mm")
    parts = [
        when,
        body_words(text(rows[0]["body"])),
        say("{focal} mm", focal=span(min(focal), max(focal), 0)) if focal else "",
    ]
    return joined(parts, ", ") or shown[0].name


def _light(rows: Sequence[Row], count: int) -> str:
    """The light as measured through what was worn, and that of the scene without it."""
    parts = [plural(count, "{n} frame", "{n} frames")]
    seen, scene = (_numbers(rows, name) for name in ("ev100", "scene_light_ev100"))
    if seen:
        light = span(min(seen), max(seen))
        parts.append(say("EV100 {light} through what was worn", light=light))
    if scene:
        light = span(min(scene), max(scene))
        parts.append(say("{light} without it, by the frames of the scene", light=light))
    off = max(map(abs, _numbers(rows, "light_residual_stops")), default=0.0)
    if off >= LEAST_SHOWN_STOPS:
        parts.append(say("each within {amount} of it", amount=stops(off)))
    return joined(parts, "; ")


def _worn(shown: tuple[FrameView, ...]) -> tuple[tuple[str, str, str], ...]:
    counts: dict[tuple[str, str], int] = {}
    for frame in shown:
        key = (frame.worn, joined([frame.total.text, frame.total.sure], " "))
        counts[key] = counts.get(key, 0) + 1
    return tuple((rig, total, plural(n, "{n} frame", "{n} frames")) for (rig, total), n in counts.items())
