"""What a setup's frames say of the light of their scene, and which of them are off it: numbers and words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from audit.message.figures import number
from audit.message.text import joined, marked, plural, say
from audit.report.links import Link
from audit.report.setup_chart import GIVES, SILENT, LightPoint, SetupChart, setup_chart
from audit.report.words import known, span, stops, text

LEAST_DRAWN = 2
"""Frames whose light must be told for a drawing, one of them compared with another."""
MOST_NAMED = 6
"""Frames off the light that are named beneath a drawing."""

COLUMNS = (
    "scene",
    "declaration",
    "declaration_source",
    "light_min_ev100",
    "light_max_ev100",
    "scene_light_ev100",
    "light_residual_stops",
    "light_tolerance_stops",
)
"""Columns that the light of a setup is told by."""

MEASURE, UNSAID, HALF_SAID, DRAFTED, UNTOLD, APART = (
    marked("{count} by which others are judged"),
    marked("{count} without a declaration"),
    marked("{count} that a grad or polariser may have darkened, by the declaration"),
    marked("{count} declared by an estimate only"),
    marked("{count} whose exposure does not tell the light"),
    marked("{count} without another frame to compare with"),
)
"""Why a frame was not compared; the first is no fault."""
ABOVE = marked("{amount} above the light of its scene (up to {explained} is normal)")
BELOW = marked("{amount} below the light of its scene (up to {explained} is normal)")


@dataclass(frozen=True)
class OffFrame:
    """A frame off the light of its scene; `number` is its place in the setup."""

    number: int
    link: Link
    words: str


@dataclass(frozen=True)
class LightView:
    """The drawing with its words; without one, `finding` says why and the rest is empty."""

    finding: str
    description: str = ""
    off: tuple[OffFrame, ...] = ()
    more: str = ""
    drawn: SetupChart | None = None


def judged_scenes(frames: pd.DataFrame) -> frozenset[str]:
    """Scenes in which a frame was compared with others: one without is what they are judged by."""
    return frozenset(frames.loc[frames["scene_light_ev100"].notna(), "scene"].dropna())


def setup_light(
    rows: Iterable[Mapping[str, Any]], links: Sequence[Link], judged: Container[str] = ()
) -> LightView:
    """The light of the frames of one setup in order; `links` leads to each, `judged` as by judged_scenes."""
    told = [_told(row, judged) for row in rows]
    points = [point for point, _ in told]
    why = Counter(reason for _, reason in told)
    compared, drawn = why[""], why[""] + why[MEASURE]
    if not compared or drawn < LEAST_DRAWN:
        return LightView(_why_none(compared, len(points), _reasons(why)))
    off = [
        OffFrame(n, link, _off_words(point))
        for n, (point, link) in enumerate(zip(points, links, strict=True), start=1)
        if point.off
    ]
    named, left_out = off[:MOST_NAMED], len(off) - MOST_NAMED
    more = plural(left_out, "and {n} more", "and {n} more") if left_out > 0 else ""
    return LightView(
        _finding(len(off), why),
        _description(points, named, more),
        tuple(named),
        more,
        setup_chart(points),
    )


def _told(row: Mapping[str, Any], judged: Container[str]) -> tuple[LightPoint, str]:
    """What a frame says of the light, and why it was not compared, or ""."""
    if text(row["declaration"]) not in ("worn", "bare", "no-neutral"):
        return SILENT, UNSAID
    if text(row["declaration_source"]) != "photographer":
        return SILENT, DRAFTED
    if text(row["declaration"]) == "no-neutral":
        return SILENT, HALF_SAID
    low, high = row["light_min_ev100"], row["light_max_ev100"]
    if not known(low) or not known(high):
        return SILENT, UNTOLD
    against = row["scene_light_ev100"], row["light_residual_stops"], row["light_tolerance_stops"]
    if all(known(value) for value in against):
        return LightPoint.compared(float(low), float(high), *(float(value) for value in against)), ""
    if text(row["scene"]) in judged:
        return LightPoint(GIVES, float(low), float(high)), MEASURE
    return SILENT, APART


def _reasons(why: Counter[str], *left_out: str) -> str:
    order = (MEASURE, UNSAID, HALF_SAID, DRAFTED, UNTOLD, APART)
    return joined([say(one, count=why[one]) for one in order if why[one] and one not in left_out], ", ")


def _why_none(compared: int, count: int, reasons: str) -> str:
    if count == compared:
        return marked("The light is not drawn: the setup holds one frame")
    if not compared:
        return say("The light is not drawn: no frame was compared ({reasons})", reasons=reasons)
    return say(
        "The light is not drawn: only 1 of {count} frames can be compared ({reasons})",
        count=count,
        reasons=reasons,
    )


def _finding(off: int, why: Counter[str]) -> str:
    compared, measures = why[""], why[MEASURE]
    others = why.total() - compared - measures
    found = _off_count(off, compared)
    by, rest = "", ""
    if measures:
        by = plural(measures, "{n} more by which they are judged", "{n} more by which they are judged")
    if others:
        rest = plural(
            others,
            "{n} more cannot be compared: {reasons}",
            "{n} more cannot be compared: {reasons}",
            reasons=_reasons(why, MEASURE),
        )
    return joined([found, by, rest], "; ")


def _off_count(off: int, compared: int) -> str:
    if compared == 1:
        fits = marked("the one frame that can be compared fits the light of its scene")
        return marked("the one frame that can be compared lies off the light of its scene") if off else fits
    if not off:
        return say("none of {all} frames lies off the light of its scene", all=compared)
    return plural(
        off,
        "{n} of {all} frames lies off the light of its scene",
        "{n} of {all} frames lie off the light of their scene",
        all=compared,
    )


def _off_words(point: LightPoint) -> str:
    message = ABOVE if point.residual > 0 else BELOW
    return say(message, amount=stops(abs(point.residual)), explained=number(point.tolerance, 1))


def _description(points: list[LightPoint], named: list[OffFrame], more: str) -> str:
    """What the drawing shows, for those who cannot see it."""
    compared = [point for point in points if point.is_compared]
    scene = say(
        "The light that each frame and its declared filters imply, in order, against that of its scene: "
        "EV100 {light}, where up to {tolerance} stops to either side is normal.",
        light=span(min(p.scene for p in compared), max(p.scene for p in compared)),
        tolerance=span(min(p.tolerance for p in compared), max(p.tolerance for p in compared)),
    )
    off = [say("{number} {frame}: {words}", number=o.number, frame=o.link.text, words=o.words) for o in named]
    return joined([scene, joined([*off, more], "; ")], " ")
