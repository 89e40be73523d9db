"""The trip by day and setup: which page each frame stands on, and what is said of each setup."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from audit.message.text import day, joined, marked, plural, say
from audit.report.diagram import Drawing
from audit.report.heat import Plate
from audit.report.rig_side import rig_side
from audit.report.setup_light import judged_scenes
from audit.report.setups import SetupView, setup_view
from audit.report.values import told_columns
from audit.report.view_frames import FrameView, level_counts
from audit.report.words import known, text
from audit.result import Result

FRAMES_A_PAGE = 80
"""A page holds whole setups up to about this many frames, so that it opens at once."""

NO_TIME = "no-time"


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


def day_of(value: Any) -> str:
    """The date of a frame's clock, "" where there is none."""
    return pd.Timestamp(value).date().isoformat() if known(value) else ""


def day_words(value: Any) -> str:
    """The date of a frame's clock as it is shown, "" where there is none."""
    return day(pd.Timestamp(value)) if known(value) else ""


def day_pages(result: Result, views: Sequence[FrameView], *, serials: bool = False) -> tuple[DayPage, ...]:
    """Days in order of time, frames without one last; setups in order of their first frame."""
    days: dict[str, dict[str, list[int]]] = {}
    rows = result.rows
    order = (
        result.frames["captured_at"]
        .reset_index(drop=True)
        .sort_values(kind="stable", na_position="last")
        .index
    )
    home: dict[str, str] = {}
    for at in order:
        setup, date = text(rows[at]["setup"]), day_of(rows[at]["captured_at"])
        date = home.setdefault(setup, date) if setup else date
        days.setdefault(date, {}).setdefault(setup, []).append(int(at))
    pages: list[DayPage] = []
    judged, counter = judged_scenes(result.frames), 0
    told = told_columns(result.frames, serials=serials)
    sides = {key: rig_side(rig, result.kit) for key, rig in result.rigs.items()}
    for date, groups in days.items():
        setups = []
        for setup, members in sorted(groups.items(), key=lambda item: item[0] == ""):
            for part in _split(members):
                counter += 1
                found, shown = [rows[n] for n in part], [views[n] for n in part]
                anchor = f"setup-{counter}"
                made = setup_view(found, shown, anchor, sides, judged, alone=not setup, told=told)
                setups.append(made)
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
