"""What the pictures tell while nothing is declared: setups, changes of exposure, clocks, files."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from audit.exposure.changes import Change, exposure_changes
from audit.message.text import joined, marked, plural, say
from audit.report.counts import file_counts
from audit.report.frame_words import exposure
from audit.report.links import Link
from audit.report.view_frames import frame_links
from audit.report.words import stops, text
from audit.result import Result
from audit.table.columns import records

HEAD = "where the exposure changed at once while the scene held, by shutter, aperture and ISO together:"
MOST_CHANGES = 10
"""Changes that are told, the largest."""
MOST_CLOCKS = 4
"""Bodies whose clocks are told, those with most frames."""
COUNTED: dict[str, Callable[[int], str]] = {
    "bracket": lambda count: plural(count, "{n} bracket", "{n} brackets"),
    "panorama": lambda count: plural(count, "{n} panorama", "{n} panoramas"),
    "focus stack": lambda count: plural(count, "{n} focus stack", "{n} focus stacks"),
    "repeats": lambda count: plural(count, "{n} exposure repeated", "{n} exposures repeated"),
    "trial": lambda count: plural(count, "{n} trial", "{n} trials"),
    "time-lapse": lambda count: plural(count, "{n} time-lapse", "{n} time-lapses"),
}
"""Kinds of sequences, and the words of their number."""


@dataclass(frozen=True)
class ChangeLine:
    """One change of exposure in words, and the frames before and after it."""

    words: str
    before: Link
    after: Link


@dataclass(frozen=True)
class Untold:
    """Sentences on setups, clocks and files; the largest changes, and how many more there are in words."""

    facts: tuple[str, ...]
    changes: tuple[ChangeLine, ...]
    more: str


def untold(result: Result) -> Untold | None:
    """What there is to tell of a trip of which nothing was declared; None for any other."""
    frames = result.frames
    if frames.empty or not (frames["declaration"] == "undeclared").all():
        return None
    changes = exposure_changes(frames)
    facts = (_setups(frames), *_clocks(frames), _files(result))
    return Untold(tuple(fact for fact in facts if fact), change_lines(frames, changes), more_words(changes))


def terminal_lines(found: Untold) -> Iterator[str]:
    """The same for a terminal."""
    yield from found.facts
    yield from change_words(found.changes, found.more)


def change_words(changes: Sequence[ChangeLine], more: str) -> Iterator[str]:
    """The changes and their frames for a terminal; one line where there is none."""
    if not changes:
        yield "nowhere did the exposure change by much while the scene held"
        return
    yield HEAD
    for one in changes:
        yield f"  {one.words} ({one.before.text}, {one.after.text})"
    if more:
        yield f"  {more}"


def more_words(changes: Sequence[Change]) -> str:
    """How many changes are not told."""
    rest = len(changes) - MOST_CHANGES
    return plural(rest, "and {n} smaller one", "and {n} smaller ones") if rest > 0 else ""


def change_lines(frames: pd.DataFrame, changes: list[Change]) -> tuple[ChangeLine, ...]:
    """The largest changes in words."""
    links = frame_links(frames)
    days = frames["captured_at"].dropna().dt.date.nunique()
    return tuple(_change(frames, one, links, several_days=days > 1) for one in changes[:MOST_CHANGES])


def _change(
    frames: pd.DataFrame, change: Change, links: Mapping[str, Link], *, several_days: bool
) -> ChangeLine:
    first, last = records(frames.iloc[[change.before, change.after]])
    start, end = _times(first["captured_at"], last["captured_at"], several_days)
    on = marked("between {start} and {end} about {amount} went on: {first}, then {last}")
    off = marked("between {start} and {end} about {amount} came off: {first}, then {last}")
    words = say(
        on if change.stops > 0 else off,
        start=start,
        end=end,
        amount=stops(abs(change.stops), digits=0),
        first=exposure(first),
        last=exposure(last),
    )
    return ChangeLine(words, links[text(first["frame"])], links[text(last["frame"])])


def _times(first: pd.Timestamp, last: pd.Timestamp, several_days: bool) -> tuple[str, str]:
    """Both times to the minute, or to the second within one; the day where it is needed."""
    fine = "%H:%M:%S" if f"{first:%H:%M}" == f"{last:%H:%M}" else "%H:%M"
    start = f"{first:%Y-%m-%d} {first:{fine}}" if several_days else f"{first:{fine}}"
    same_day = first.date() == last.date()
    return start, f"{last:{fine}}" if same_day else f"{last:%Y-%m-%d} {last:{fine}}"


def _setups(frames: pd.DataFrame) -> str:
    """How many setups, and the sequences in them."""
    kinds = Counter(
        text(kind)
        for kind in frames[frames["sequence"].notna()].drop_duplicates(["sequence", "sequence_of"])[
            "sequence"
        ]
    )
    count = int(frames["setup"].nunique())
    told = [plural(count, "{n} setup", "{n} setups")]
    told += [words(kinds[kind]) for kind, words in COUNTED.items() if kinds[kind]]
    return joined(told, ", ")


def _clocks(frames: pd.DataFrame) -> Iterator[str]:
    """From when to when each camera's clock ran, and what has no time."""
    timed = frames[frames["captured_at"].notna() & frames["body"].notna()]
    bodies = timed["body"].value_counts().index
    for body in sorted(bodies[:MOST_CLOCKS]):
        part = timed[timed["body"] == body]
        first, last = part["captured_at"].min(), part["captured_at"].max()
        yield say(
            "Clock of {body_name}: {start} to {end}, {frames}",
            body_name=str(body),
            start=f"{first:%Y-%m-%d %H:%M}",
            end=f"{last:%Y-%m-%d %H:%M}",
            frames=plural(len(part), "{n} frame", "{n} frames"),
        )
    more = len(bodies) - MOST_CLOCKS
    if more > 0:
        yield plural(more, "and {n} more body", "and {n} more bodies")
    blind = int(frames["captured_at"].isna().sum())
    if blind:
        yield plural(blind, "{n} frame without a time", "{n} frames without a time")


def _files(result: Result) -> str:
    files = file_counts(result)
    return say(
        "Files: {read} in {frames}, {passed} passed over",
        read=files.in_frames,
        frames=plural(len(result.frames), "{n} frame", "{n} frames"),
        passed=files.passed_over,
    )
