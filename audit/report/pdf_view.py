"""What stands on paper: causes, findings in full up to a limit, contact sheet, prints and frames."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from audit.message.text import marked
from audit.report.causes import Cause, causes
from audit.report.diagram import Drawing
from audit.report.links import Link
from audit.report.strip import StripView, strips
from audit.report.strip_data import day_lights
from audit.report.thumbnails import Thumbnail
from audit.report.view import Page
from audit.report.view_evidence import CORNERS, EvidenceView
from audit.report.view_findings import FindingRow, Group
from audit.report.view_frames import FrameView, frame_links
from audit.report.view_print import PrintItem
from audit.result import Result

MOST_LINES = 60
"""Lines of a table and findings of a level: thousands would take a minute to set."""
MOST_IN_LINE = 300
"""Frames on the contact sheet and in the list, for the same reason."""
MOST_STRIPS = 14
"""Days drawn in the time strip."""
MOST_FRAMES = 12
"""Frames named beside a finding."""


@dataclass(frozen=True)
class PaperFrame:
    """A frame named on paper; `href` leads to its page, "" where it has none."""

    name: str
    href: str


@dataclass(frozen=True)
class PaperFinding:
    """One finding in full; `picture` is shown where there is no pair as evidence.

    `drawing` is the corner drawing of its first frame that has one. `picture_of`, `of`: names of the frames.
    """

    row: FindingRow
    advice: str
    sure: str
    frames: tuple[PaperFrame, ...]
    more: int
    evidence: EvidenceView | None
    picture: Thumbnail | None
    picture_of: str
    drawing: Drawing | None
    of: str


@dataclass(frozen=True)
class PaperGroup:
    """Findings of one check at one level."""

    group: Group
    findings: tuple[PaperFinding, ...]


@dataclass(frozen=True)
class PaperLevel:
    """One level: a line for each cause, then each in full; `left_out` findings stand in the pages only."""

    name: str
    title: str
    none: str
    lines: tuple[Cause, ...]
    groups: tuple[PaperGroup, ...]
    left_out: int


@dataclass(frozen=True)
class Paper:
    """What the PDF shows beside the records of the trip; `rest` holds (file, what it holds).

    `frames` are in the order of time, each as a picture of the contact sheet and as a line.
    """

    levels: tuple[PaperLevel, ...]
    strips: tuple[StripView, ...]
    days_left_out: int
    has_sky: bool
    frames: tuple[FrameView, ...]
    frames_left_out: int
    prints: tuple[PrintItem, ...]
    prints_left_out: int
    rest: tuple[tuple[str, str], ...]


def paper(result: Result, shown: Page, places: Mapping[str, str] | None = None) -> Paper:
    """The records of the PDF; `places` are the pages on which anchors lie, None for a single page.

    A frame without a page is named and not linked.
    """
    frames = result.frames
    by_anchor = {frame.anchor: frame for folder in shown.folders for frame in folder.frames}
    views = [by_anchor[f"frame-{n}"] for n in range(1, len(frames) + 1)]
    links = frame_links(frames)
    timed = day_lights(frames, [view.level for view in views], links)
    writer = _Writer(by_anchor, places or {})
    act = _level("act", marked("What to act on"), marked("Nothing to act on."), result, shown, writer)
    look = _level("look", marked("What to look at"), marked("Nothing doubtful."), result, shown, writer)
    drawn = strips(timed, {name: link.anchor for name, link in links.items()})
    times = frames["captured_at"].reset_index(drop=True)
    by_time = times.sort_values(kind="stable", na_position="last").index
    return Paper(
        levels=(act, look),
        strips=drawn[:MOST_STRIPS],
        days_left_out=max(len(drawn) - MOST_STRIPS, 0),
        has_sky=bool(frames["sky_ev100"].notna().any()),
        frames=tuple(views[n] for n in by_time[:MOST_IN_LINE]),
        frames_left_out=max(len(by_time) - MOST_IN_LINE, 0),
        prints=shown.desk.items[:MOST_LINES],
        prints_left_out=max(len(shown.desk.items) - MOST_LINES, 0),
        rest=_rest(single=places is None),
    )


def _level(name: str, title: str, none: str, result: Result, shown: Page, writer: _Writer) -> PaperLevel:
    groups, left = [], MOST_LINES
    for group in shown.groups[name]:
        rows = group.rows[:left]
        left -= len(rows)
        if rows:
            groups.append(PaperGroup(group, tuple(writer.finding(group, row) for row in rows)))
    lines = causes(shown.groups[name], result.frames)
    return PaperLevel(name, title, none, lines[:MOST_LINES], tuple(groups), max(len(lines) - MOST_LINES, 0))


class _Writer:
    """Findings with their frames' names, pages and drawings."""

    def __init__(self, frames: Mapping[str, FrameView], places: Mapping[str, str]) -> None:
        self._frames, self._places = frames, places

    def finding(self, group: Group, row: FindingRow) -> PaperFinding:
        links = (*row.links, *row.more)
        drawn = self._drawn(links) if group.check in CORNERS else None
        seen = None if row.evidence else self._pictured(links)
        return PaperFinding(
            row=row,
            advice=row.advice or group.advice,
            sure=row.sure or group.sure,
            frames=tuple(self._frame(link) for link in links[:MOST_FRAMES]),
            more=max(len(links) - MOST_FRAMES, 0),
            evidence=row.evidence,
            picture=seen[1] if seen else None,
            picture_of=seen[0] if seen else "",
            drawing=drawn[1] if drawn else None,
            of=drawn[0] if drawn else "",
        )

    def _frame(self, link: Link) -> PaperFrame:
        place = self._places.get(link.anchor, "")
        return PaperFrame(link.text, f"{place}#{link.anchor}" if place else "")

    def _pictured(self, links: tuple[Link, ...]) -> tuple[str, Thumbnail] | None:
        found = ((link.text, self._frames.get(link.anchor)) for link in links)
        return next(((name, f.picture) for name, f in found if f and f.picture.uri), None)

    def _drawn(self, links: tuple[Link, ...]) -> tuple[str, Drawing] | None:
        found = ((link, self._frames.get(link.anchor)) for link in links)
        drawn = ((k.text, f.corner.drawing) for k, f in found if f and f.corner and f.corner.drawing)
        return next(drawn, None)


def _rest(*, single: bool) -> tuple[tuple[str, str], ...]:
    pages = (
        ("index.html", marked("the first page, from which all others open")),
        ("findings.html", marked("every finding with all its frames, the notes too")),
        ("frames.html", marked("every frame in one table, and from there to all that is known of it")),
        ("print.html", marked("how large each chosen frame prints, and with which crop")),
        ("kit.html", marked("the kit as used, its dimensions, what was assumed")),
        ("method.html", marked("how each number is obtained, and its sources")),
        ("passed-over.html", marked("the files that were passed over, and why")),
    )
    whole = (("report.html", marked("the whole report with every frame, print desk, kit and method")),)
    data = (
        ("frames.csv", marked("the table of frames; frames.parquet holds the same with its types")),
        ("findings.json", marked("the findings, for other programs")),
        ("orders.csv", marked("the order sheet for a printer")),
    )
    return (whole if single else pages) + data
