"""What to do first: one entry a cause, what cannot wait on top, with a picture and what can be saved."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from audit.message.text import joined, marked, plural, say
from audit.report.links import Link
from audit.report.since import Pair
from audit.report.thumbnails import Thumbnail
from audit.report.view_findings import FindingRow, Group
from audit.report.view_frames import FrameView
from audit.report.view_print import CropBox
from audit.report.words import known, span, text
from audit.table.columns import records

SEEN_SHOWN = 2
"""What was seen, where the rows of a cause differ in it."""
FRAMES_SHOWN = 6
"""Frames linked in a line; the finding itself has them all."""


URGENT = (
    {"unreadable", "counter-gap"},
    {"exposure-off", "jpeg-clipped", "light-leak", "bulb-time", "bracket-end", "strong-handheld"},
    {"corners", "corner-stack", "corner-hint", "iso-left-high", "diffraction", "colour-cast", "raw-alone"},
)
"""What cannot wait for the next card, what a revisit could still mend, what a print would show; the rest is
kit and declarations to correct."""
CROP = ["clean_crop_share", "clean_crop_worst_share"]

PREDICTED = frozenset({"corners", "corner-rules"})
"""Checks that the clean crop bears on: it is that of the declared rig, which the others doubt."""


@dataclass(frozen=True)
class Cause:
    """One line: what it is, in how many frames, what can be saved, what to do, where it is told in full."""

    anchor: str
    level: str
    title: str
    cause: str
    by: str
    count: str
    saved: str
    advice: str
    names: tuple[str, ...]
    frames: tuple[Link, ...]
    more: int
    pictures: tuple[Pictured, ...]
    new: bool


@dataclass(frozen=True)
class Pictured:
    """A frame as it is shown beside a cause, the clean crop drawn on it where there is one."""

    link: Link
    picture: Thumbnail
    drawn: CropBox | None


def causes(
    groups: Iterable[Group],
    frames: pd.DataFrame,
    views: Iterable[FrameView] = (),
    fresh: Collection[Pair] = (),
) -> tuple[Cause, ...]:
    """One entry for each cause of some groups: what cannot wait first, then those with most frames.

    `views` are the frames as the report shows them, for the pictures; `fresh` what the run before had not.
    """
    crops = {text(r["frame"]): r for r in records(frames, ("frame", *CROP))}
    by_name = {view.identity: view for view in views}
    found = [
        (_urgency(group.check), _cause(group, rows, crops, by_name, fresh))
        for group in groups
        for rows in _alike(group.rows)
    ]
    return tuple(cause for _, cause in sorted(found, key=lambda one: (one[0], -len(one[1].names))))


def _urgency(check: str) -> int:
    return next((n for n, checks in enumerate(URGENT) if check in checks), len(URGENT))


def _alike(rows: Iterable[FindingRow]) -> list[list[FindingRow]]:
    """Rows of one cause; those that name none are of one too."""
    found: dict[str, list[FindingRow]] = {}
    for row in rows:
        found.setdefault(row.cause, []).append(row)
    return list(found.values())


def _cause(
    group: Group,
    rows: list[FindingRow],
    crops: Mapping[str, Mapping[Any, Any]],
    views: Mapping[str, FrameView],
    fresh: Collection[Pair],
) -> Cause:
    first = rows[0]
    to = tuple(dict.fromkeys(link for row in rows for link in (*row.links, *row.more)))
    names = tuple(dict.fromkeys(name for row in rows for name in row.frames))
    return Cause(
        anchor=first.anchor,
        level=group.level,
        title=group.title,
        cause=first.cause or joined(dict.fromkeys(row.seen for row in rows[:SEEN_SHOWN]), "; "),
        by=first.by if first.cause and len({row.by for row in rows}) == 1 else "",
        count=plural(len(names), "{n} frame", "{n} frames"),
        saved=_saved([crops[n] for n in names if n in crops]) if group.check in PREDICTED else "",
        advice=group.advice or first.advice,
        names=names,
        frames=to[:FRAMES_SHOWN],
        more=max(len(to) - FRAMES_SHOWN, 0),
        pictures=_pictures(rows, views),
        new=all((group.check, name) in fresh for name in names or ("",)),
    )


def _pictures(rows: list[FindingRow], views: Mapping[str, FrameView]) -> tuple[Pictured, ...]:
    """The pair that bears on it, else the first of its frames that has a picture."""
    for row in rows:
        if row.evidence is not None:
            sides = (row.evidence.worn, row.evidence.against)
            return tuple(Pictured(side.link, side.picture, None) for side in sides if side.picture.uri)
    shown = [views[name] for row in rows for name in row.frames if name in views]
    for view in shown:
        if view.picture.uri:
            return (Pictured(Link(view.anchor, view.name), view.picture, view.drawn),)
    return ()


def _saved(rows: list[Mapping[Any, Any]]) -> str:
    """How many frames a crop saves and what it takes away, by the middle of the band and at its worst end."""
    usable = [row for row in rows if known(row["clean_crop_share"]) and row["clean_crop_share"] > 0]
    if not usable:
        return marked("none by a crop") if rows else ""
    away = [100 * (1 - float(row["clean_crop_share"])) for row in usable]
    worst = [
        100 * (1 - float(r["clean_crop_worst_share"])) for r in usable if known(r["clean_crop_worst_share"])
    ]
    told = {"count": len(usable), "all": len(rows)}
    if not max(away) and len(worst) == len(usable):
        return say(
            "{count} of {all} without a crop, at worst by one that takes {taken:.0f} %",
            taken=max(worst),
            **told,
        )
    at_worst = _at_worst(worst, len(usable))
    if not max(away):
        return say("{count} of {all} without a crop ({at_worst})", at_worst=at_worst, **told)
    return say(
        "{count} of {all} by a crop that takes {share} % of the area ({at_worst})",
        share=span(min(away), max(away), 0),
        at_worst=at_worst,
        **told,
    )


def _at_worst(worst: list[float], count: int) -> str:
    """What the worst end of the band takes away of `count` frames, of which `worst` have a crop there."""
    if not worst:
        return marked("none is at worst")
    if len(worst) < count:
        return marked("not each of them at worst")
    return say("{share:.0f} % at worst", share=max(worst))
