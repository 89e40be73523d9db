"""The whole page as plain records: everything is counted, formatted and sorted here, not in a template."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pandas as pd

from audit import __version__
from audit.model.finding import LEVELS
from audit.model.result import Result
from audit.report.corner_diagrams import frame_diagrams
from audit.report.counts import FileCounts, declared_counts, file_counts
from audit.report.diagram import Drawing, drawings
from audit.report.heat import Plate
from audit.report.links import Link
from audit.report.thumbnails import data_uri
from audit.report.view_evidence import Shown
from audit.report.view_filters import FilterRow, filter_rows
from audit.report.view_findings import Group, back_links, grouped
from audit.report.view_frames import FrameView, Pictures, frame_links, frame_view
from audit.report.view_kit import KitView, kit_view
from audit.report.view_method import CheckView, PixelMethod, checks, pixel_method
from audit.report.view_print import PrintView, print_view
from audit.report.words import counted, text, without_folders

LONG_EXPOSURE_S = 30.0
"""Nominal exposure time from which the page tells of the dangers of long exposures."""

MANY_FRAMES = 300
"""Above this the browser lays out only the frames near the screen."""


@dataclass(frozen=True)
class SumLine:
    """One line of a sum as it is shown."""

    words: str
    count: int


@dataclass(frozen=True)
class FolderView:
    """One folder of the dump with its frames in the table's order."""

    anchor: str
    name: str
    summary: str
    frames: tuple[FrameView, ...]


@dataclass(frozen=True)
class MistakeView:
    """A mistake in what the photographer wrote."""

    where: str
    key: str
    text: str
    level: str


@dataclass(frozen=True)
class Page:
    """Everything the templates need."""

    title: str
    version: str
    serials: bool
    summary: tuple[str, ...]
    tally: tuple[tuple[str, str], ...]
    caution: bool
    many: bool
    groups: dict[str, list[Group]]
    mistakes: tuple[MistakeView, ...]
    files: FileCounts
    file_lines: tuple[SumLine, ...]
    declared_lines: tuple[SumLine, ...]
    frame_count: int
    drawings: tuple[Drawing, ...]
    plates: tuple[Plate, ...]
    folders: tuple[FolderView, ...]
    kit: KitView
    filters: tuple[FilterRow, ...]
    pixels: PixelMethod
    checks: tuple[CheckView, ...]
    passed_over: tuple[tuple[str, str], ...]
    desk: PrintView


def page(result: Result, *, serials: bool = False, place: Callable[[bytes], str] = data_uri) -> Page:
    """The report of one audit; `serials` shows serial numbers and says so on top.

    `place` keeps a thumbnail and gives the address under which a page finds it.
    """
    frames, files = result.frames, file_counts(result)
    links, pictures = frame_links(frames), Pictures(place)
    shown = Shown(result, links, pictures.of)
    groups = grouped(result.findings, result.checks, links, shown.of_finding)
    drawn, views = _frames(result, pictures, shown, back_links(groups), serials)
    return Page(
        title=without_folders(result.title),
        version=__version__,
        serials=serials,
        summary=_summary(result, groups),
        tally=_tally(result, files, groups),
        caution=bool((frames["exposure_time_s"].astype(float) >= LONG_EXPOSURE_S).any()),
        many=len(frames) > MANY_FRAMES,
        groups=groups,
        mistakes=tuple(MistakeView(_where(m.path, m.line), m.key, m.text, m.level) for m in result.mistakes),
        files=files,
        file_lines=_file_lines(files, len(frames)),
        declared_lines=tuple(SumLine(DECLARED[n], c) for n, c in declared_counts(frames)),
        frame_count=len(frames),
        drawings=drawn,
        plates=shown.plates,
        folders=_folders(frames, views),
        kit=kit_view(result, serials=serials),
        filters=filter_rows(result, links),
        pixels=pixel_method(result),
        checks=checks(result),
        passed_over=tuple(
            (text(r["path"]), text(r["reason"])) for r in result.passed_over.to_dict("records")
        ),
        desk=print_view(result, links, pictures.of),
    )


def _frames(
    result: Result, pictures: Pictures, shown: Shown, back: dict[str, list[Link]], serials: bool
) -> tuple[tuple[Drawing, ...], list[FrameView]]:
    """The drawings that the frames share, and the frames."""
    diagrams = frame_diagrams(result)
    drawn = drawings(d for d in diagrams if d is not None)
    records = result.frames.to_dict("records")
    views = [
        frame_view(
            row,
            f"frame-{n}",
            pictures.of(row),
            drawn[diagram] if diagram else None,
            back.get(text(row["frame"]), []),
            shown.of_frame(row),
            serials=serials,
        )
        for n, (row, diagram) in enumerate(zip(records, diagrams, strict=True), start=1)
    ]
    return tuple(drawn.values()), views


DECLARED = {
    "worn": "frames with a rig declared",
    "bare": "frames declared bare",
    "unknown": "frames declared unknown",
    "undeclared": "frames undeclared",
}


def _summary(result: Result, groups: dict[str, list[Group]]) -> tuple[str, str, str]:
    """Three sentences: what was there, what was declared, what was found."""
    frames = result.frames
    if frames.empty:
        return (
            "No frame was found.",
            f"{counted(result.files_seen, 'file')} passed over.",
            "Nothing could be audited.",
        )
    bodies = sorted({text(b) for b in frames["body"]} - {""})
    by = f" by {counted(len(bodies), 'body', 'bodies')}" if bodies else ""
    first = f"{counted(len(frames), 'frame')}{by}{_dates(frames)}."
    counts = dict(declared_counts(frames))
    said = len(frames) - counts["undeclared"]
    second = f"What was worn is declared for {_part(said, len(frames))}."
    act, look = groups["act"], groups["look"]
    if not act and not look:
        return first, second, "Nothing was found to act on or to look at."
    third = f"{_found(act, 'to act on')}; {_found(look, 'to look at')}."
    return first, second, third[0].upper() + third[1:]


def _part(part: int, whole: int) -> str:
    return "all of them" if part == whole else "none of them" if part == 0 else f"{part} of them"


def _found(groups: list[Group], what: str) -> str:
    if not groups:
        return f"nothing {what}"
    frames = {frame for group in groups for frame in group.frames}
    where = f", in {counted(len(frames), 'frame')}" if frames else ""
    return f"{counted(sum(len(group.rows) for group in groups), 'thing')} {what}{where}"


def _dates(frames: pd.DataFrame) -> str:
    times = frames["captured_at"].dropna()
    if times.empty:
        return ", none with a time"
    first, last = times.min().strftime("%Y-%m-%d"), times.max().strftime("%Y-%m-%d")
    return f" on {first}" if first == last else f" from {first} to {last}"


def _tally(result: Result, files: FileCounts, groups: dict[str, list[Group]]) -> tuple[tuple[str, str], ...]:
    found = {level: str(sum(len(group.rows) for group in groups[level])) for level in LEVELS}
    return (
        ("Frames", str(len(result.frames))),
        ("Files seen", str(files.seen)),
        ("To act on", found["act"]),
        ("To look at", found["look"]),
        ("Notes", found["note"]),
        ("Mistakes", str(len(result.mistakes))),
    )


def _file_lines(files: FileCounts, frames: int) -> tuple[SumLine, ...]:
    lines = [SumLine(f"files in {counted(frames, 'frame')}", files.in_frames)]
    lines += [SumLine(f"passed over: {reason}", count) for reason, count in files.by_reason]
    if files.missing:
        lines.append(SumLine("in neither place: a fault of this program, please report it", files.missing))
    return tuple(lines)


def _folders(frames: pd.DataFrame, views: list[FrameView]) -> tuple[FolderView, ...]:
    members: dict[str, list[FrameView]] = {}
    for name, view in zip(frames["folder"], views, strict=True):
        members.setdefault(text(name) or ".", []).append(view)
    return tuple(
        FolderView(
            f"folder-{n}", "the dump itself" if name == "." else name, _folder_words(inside), tuple(inside)
        )
        for n, (name, inside) in enumerate(members.items(), start=1)
    )


def _folder_words(views: list[FrameView]) -> str:
    parts = [counted(len(views), "frame")]
    for level, words in (("act", "to act on"), ("look", "to look at")):
        count = sum(view.level == level for view in views)
        parts += [f"{count} {words}"] if count else []
    return ", ".join(parts)


def _where(path: str, line: int) -> str:
    return f"{without_folders(path)}, line {line}" if line else without_folders(path)
