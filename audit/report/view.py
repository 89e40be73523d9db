"""The whole page as plain records: everything is counted, formatted and sorted here, not in a template."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import pandas as pd

from audit import __version__
from audit.errors import alike
from audit.finding import LEVELS
from audit.message.text import day, joined, marked, plural, say
from audit.report.counts import FileCounts, SumLine, declared_counts, declared_lines, file_counts, file_lines
from audit.report.diagram import Drawing, drawings, frame_diagrams
from audit.report.heat import Plate
from audit.report.hints import hints
from audit.report.links import Link
from audit.report.since import Before, Since, since
from audit.report.thumbnails import Opens, data_uri
from audit.report.untold import Untold, untold
from audit.report.view_evidence import EvidenceViews
from audit.report.view_filters import FilterRow, filter_rows
from audit.report.view_findings import Group, back_links, grouped
from audit.report.view_frames import FrameView, Thumbnails, frame_links, frame_view, level_counts, pictured
from audit.report.view_kit import KitView, kit_view
from audit.report.view_method import CheckView, PixelMethod, checks, pixel_method
from audit.report.view_print import PrintView, print_view
from audit.report.words import text, without_folders
from audit.result import Result

MISTAKE = {"error": marked("error"), "warning": marked("warning")}
"""Words for the levels of mistakes."""


@dataclass(frozen=True)
class FolderView:
    """One folder of the dump with its frames in the table's order; the dump itself has no name."""

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
    hints: tuple[str, ...]
    untold: Untold | None
    tally: tuple[tuple[str, str, str], ...]
    since: Since | None
    caution: bool
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


def page(
    result: Result,
    *,
    serials: bool = False,
    place: Callable[[bytes], str] = data_uri,
    before: Before | None = None,
    opens: Mapping[str, Opens] | None = None,
) -> Page:
    """The report of one audit; `serials` shows serial numbers and says so on top.

    `before` is what the run before found; `opens` says by a frame's name what its picture leads to.

    `place` keeps a thumbnail and gives the address under which a page finds it.
    """
    frames, files = result.frames, file_counts(result)
    links = _links(result, pictures := Thumbnails(place, opens), place)
    shown = EvidenceViews(result, links, pictures.of)
    groups = grouped(result.findings, result.checks, links, shown.of_finding)
    drawn, views = _frames(result, links, pictures, shown, back_links(groups), serials)
    return Page(
        title=without_folders(result.title),
        version=__version__,
        serials=serials,
        summary=_summary(result, groups),
        hints=hints(result),
        untold=untold(result),
        tally=_tally(result, files, groups),
        since=since(before, result, without_folders(result.title)),
        caution=any(view.long for view in views),
        groups=groups,
        mistakes=tuple(
            MistakeView(_where(m.path, m.line, len(more)), m.key, m.text, MISTAKE[m.level])
            for m, *more in alike(result.mistakes)
        ),
        files=files,
        file_lines=file_lines(files, len(frames)),
        declared_lines=declared_lines(frames),
        frame_count=len(frames),
        drawings=drawn,
        plates=shown.plates,
        folders=_folders(frames, views),
        kit=kit_view(result, serials=serials),
        filters=filter_rows(result, links),
        pixels=pixel_method(result),
        checks=checks(result),
        passed_over=_passed_over(result.passed_over),
        desk=print_view(result, links, pictures.of),
    )


def _passed_over(files: pd.DataFrame) -> tuple[tuple[str, str], ...]:
    return tuple((text(p), text(why)) for p, why in zip(files["path"], files["reason"], strict=True))


def _links(result: Result, pictures: Thumbnails, place: Callable[[bytes], str]) -> dict[str, Link]:
    """Places of the frames; with pictures, unless each would stand in one page as often as it is named."""
    links = frame_links(result.frames)
    return links if place is data_uri else pictured(links, result.rows, pictures.of)


def _frames(
    result: Result,
    links: dict[str, Link],
    pictures: Thumbnails,
    shown: EvidenceViews,
    back: dict[str, list[Link]],
    serials: bool,
) -> tuple[tuple[Drawing, ...], list[FrameView]]:
    """The drawings that the frames share, and the frames."""
    diagrams = frame_diagrams(result)
    drawn = drawings(d for d in diagrams if d is not None)
    views = [
        frame_view(
            row,
            Link(f"frame-{n}", links[text(row["frame"])].text),
            pictures.of(row),
            drawn[diagram] if diagram else None,
            back.get(text(row["frame"]), []),
            shown.of_frame(row),
            serials=serials,
        )
        for n, (row, diagram) in enumerate(zip(result.rows, diagrams, strict=True), start=1)
    ]
    return tuple(drawn.values()), views


def _summary(result: Result, groups: dict[str, list[Group]]) -> tuple[str, str, str]:
    """Three sentences: what was there, what was declared, what was found."""
    frames = result.frames
    if frames.empty:
        return (
            marked("No frame was found."),
            plural(result.files_seen, "{n} file passed over.", "{n} files passed over."),
            marked("Nothing could be audited."),
        )
    return _there(frames), _declared(frames), _found(groups["act"], groups["look"])


def _there(frames: pd.DataFrame) -> str:
    count = plural(len(frames), "{n} frame", "{n} frames")
    bodies = {text(b) for b in frames["body"]} - {""}
    if bodies:
        count = say(
            "{frames} by {bodies}", frames=count, bodies=plural(len(bodies), "{n} body", "{n} bodies")
        )
    times = frames.loc[frames["other_trip"].isna(), "captured_at"].dropna()
    if times.empty:
        return say("{frames}, none with a time.", frames=count)
    first, last = day(times.min()), day(times.max())
    if first == last:
        return say("{frames} on {day}.", frames=count, day=first)
    return say("{frames} from {first} to {last}.", frames=count, first=first, last=last)


def _declared(frames: pd.DataFrame) -> str:
    declared = len(frames) - dict(declared_counts(frames))["undeclared"]
    if declared == len(frames):
        return marked("What was worn is declared for all of them.")
    if not declared:
        return marked("What was worn is declared for none of them.")
    return say("What was worn is declared for {count} of them.", count=declared)


def _found(act: list[Group], look: list[Group]) -> str:
    """What was found; the first half begins a sentence."""
    if not act and not look:
        return marked("Nothing was found to act on or to look at.")
    acts, looks = (sum(len(group.rows) for group in groups) for groups in (act, look))
    first, second = marked("Nothing to act on"), marked("nothing to look at")
    if act:
        first = _in_frames(plural(acts, "{n} thing to act on", "{n} things to act on"), act)
    if look:
        second = _in_frames(plural(looks, "{n} thing to look at", "{n} things to look at"), look)
    return say("{to_act_on}; {to_look_at}.", to_act_on=first, to_look_at=second)


def _in_frames(things: str, groups: list[Group]) -> str:
    frames = {frame for group in groups for frame in group.frames}
    count = plural(len(frames), "{n} frame", "{n} frames")
    return say("{things}, in {frames}", things=things, frames=count) if frames else things


def _tally(
    result: Result, files: FileCounts, groups: dict[str, list[Group]]
) -> tuple[tuple[str, str, str], ...]:
    """Counts with their names and the places where what is counted stands."""
    found = {level: str(sum(len(group.rows) for group in groups[level])) for level in LEVELS}
    return (
        (marked("Frames"), str(len(result.frames)), "counts"),
        (marked("Files seen"), str(files.seen), "passed-over"),
        (marked("To act on"), found["act"], "act"),
        (marked("To look at"), found["look"], "look"),
        (marked("Notes"), found["note"], "note"),
        (marked("Mistakes"), str(len(result.mistakes)), "mistakes"),
    )


def _folders(frames: pd.DataFrame, views: list[FrameView]) -> tuple[FolderView, ...]:
    members: dict[str, list[FrameView]] = {}
    for name, view in zip(frames["folder"], views, strict=True):
        members.setdefault(text(name) or ".", []).append(view)
    return tuple(
        FolderView(
            f"folder-{n}",
            "" if name == "." else name,
            _folder_words(inside),
            tuple(inside),
        )
        for n, (name, inside) in enumerate(members.items(), start=1)
    )


def _folder_words(views: list[FrameView]) -> str:
    return joined([plural(len(views), "{n} frame", "{n} frames"), *level_counts(views)], ", ")


def _where(path: str, line: int, more: int) -> str:
    file = without_folders(path)
    if more:
        words = marked("{file}, line {line}, and {count} more of the same")
        return say(words, file=file, line=line, count=more)
    return say("{file}, line {line}", file=file, line=line) if line else file
