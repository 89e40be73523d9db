"""Each row of the frame table as the words that stand beside its picture."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from audit.corners.leaning import Leaning
from audit.finding import LEVELS
from audit.message.figures import number
from audit.message.text import marked, plural, say
from audit.report import frame_words
from audit.report.diagram import Drawing
from audit.report.links import Link
from audit.report.print_jobs import alone
from audit.report.thumbnails import NOTHING_MORE, Opens, Thumbnail, data_uri, thumbnail
from audit.report.view_evidence import PixelsView
from audit.report.view_print import CropBox, drawn_crop, largest_words
from audit.report.words import (
    LEAST_SHOWN_STOPS,
    Stated,
    corner_loss,
    known,
    likely_loss,
    stops,
    text,
    texts,
    widest_clear,
)

UNMEASURABLE = marked("not measurable")


@dataclass(frozen=True)
class LeaningView:
    """Which way an undecided corner leans, and the chances as parts of a bar of 100."""

    words: str
    clear: int
    dark: int
    cut: int


@dataclass(frozen=True)
class CornerView:
    """The verdict in words beside its drawing (None where nothing can be drawn)."""

    verdict: str
    loss: Stated
    why: str
    rule: str
    assumed: str
    drawing: Drawing | None
    more: tuple[str, ...] = ()
    leans: LeaningView | None = None


LONG_EXPOSURE_S = 30.0
"""From here on the tide and the dusk have time to come: common practice, no source."""


@dataclass(frozen=True)
class FrameView:
    """One frame; a text is "" where the table has nothing."""

    anchor: str
    name: str
    identity: str
    level: str
    picture: Thumbnail
    time: str
    clock: str
    day: str
    camera: str
    lens: str
    exposure: str
    long: bool
    reckoned: str
    worn: str
    declared: Stated
    total: Stated
    light: str
    sequence: str
    estimate: Stated
    corner: CornerView | None
    pixels: PixelsView | None
    problem: str
    notes: tuple[str, ...]
    files: tuple[str, ...]
    findings: tuple[Link, ...]
    prints: str
    drawn: CropBox | None


class Thumbnails:
    """Thumbnails, each distinct one encoded once and put where `place` says.

    `opens` says by a frame's name what its picture leads to.
    """

    def __init__(
        self, place: Callable[[bytes], str] = data_uri, opens: Mapping[str, Opens] | None = None
    ) -> None:
        self._place, self._opens = place, opens or {}
        self._made: dict[tuple[bytes, int, float | None], Thumbnail] = {}

    def of(self, row: Mapping[str, Any]) -> Thumbnail:
        """The picture of a row, upright."""
        jpeg = row["thumbnail_jpeg"] if isinstance(row["thumbnail_jpeg"], bytes) else b""
        sides = row["width_px"], row["height_px"]
        aspect = sides[0] / sides[1] if all(known(side) and side > 0 for side in sides) else None
        key = (jpeg, int(row["orientation"]) if known(row["orientation"]) else 1, aspect)
        if key not in self._made:
            self._made[key] = thumbnail(*key, self._place)
        return replace(self._made[key], opens=self._opens.get(text(row["frame"]), NOTHING_MORE))


def frame_links(frames: pd.DataFrame) -> dict[str, Link]:
    """Frame name to its place in the page; the short name where no other frame has it."""
    names = [text(name) for name in frames["frame"]]
    folders = [text(folder) for folder in frames["folder"]]
    short = [name.removeprefix(f"{folder}/") for name, folder in zip(names, folders, strict=True)]
    often = pd.Series(short, dtype="object").value_counts()
    links: dict[str, Link] = {}
    for n, (name, last) in enumerate(zip(names, short, strict=True), start=1):
        links.setdefault(name, Link(f"frame-{n}", last if often[last] == 1 else name))
    return links


def pictured(
    links: Mapping[str, Link],
    rows: Iterable[Mapping[str, Any]],
    picture: Callable[[Mapping[str, Any]], Thumbnail],
) -> dict[str, Link]:
    """The links, each with the thumbnail of its frame where it has one."""
    of = {text(row["frame"]): picture(row) for row in rows}
    return {name: replace(link, picture=of[name] if of[name].uri else None) for name, link in links.items()}


def level_counts(views: Sequence[FrameView]) -> list[str]:
    """How many of the frames are to act on, and how many to look at; nothing where there are none."""
    act, look = (sum(view.level == level for view in views) for level in ("act", "look"))
    parts = [plural(act, "{n} frame to act on", "{n} frames to act on")] if act else []
    return parts + ([plural(look, "{n} frame to look at", "{n} frames to look at")] if look else [])


def frame_view(
    row: Mapping[str, Any],
    link: Link,
    picture: Thumbnail,
    drawing: Drawing | None,
    findings: list[Link],
    pixels: PixelsView | None,
    *,
    serials: bool = False,
) -> FrameView:
    """The words of one row, at the place and with the name of `link`; `serials` adds serial numbers."""
    identity, job = text(row["frame"]), None if known(row["problem"]) else alone(row)
    levels = [level for level in LEVELS if any(link.level == level for link in findings)]
    return FrameView(
        anchor=link.anchor,
        name=link.text,
        identity=identity,
        level=levels[0] if levels else "",
        picture=picture,
        time=frame_words.time(row),
        clock=frame_words.clock(row),
        day=frame_words.day_and_zone(row),
        camera=frame_words.camera(row, serials),
        lens=frame_words.lens(row, serials),
        exposure=frame_words.exposure(row),
        long=known(row["exposure_time_s"]) and float(row["exposure_time_s"]) >= LONG_EXPOSURE_S,
        reckoned=frame_words.reckoned(row),
        worn=frame_words.worn(row),
        declared=frame_words.declared(row),
        total=frame_words.total(row),
        light=frame_words.light(row),
        sequence=frame_words.sequence(row),
        estimate=frame_words.estimate(row),
        corner=_corner(row, drawing),
        pixels=None if known(row["problem"]) else pixels,
        problem=text(row["problem"]),
        notes=frame_words.notes(row),
        files=tuple(texts(row["files"])),
        findings=tuple(findings),
        prints=largest_words(job) if job else "",
        drawn=drawn_crop(job) if job else None,
    )


def _corner(row: Mapping[str, Any], drawing: Drawing | None) -> CornerView | None:
    """None for a file that could not be read: its problem stands there already."""
    if known(row["problem"]):
        return None
    verdict, why = text(row["corner_verdict"]) or UNMEASURABLE, text(row["corner_why"])
    if verdict == UNMEASURABLE:
        reason = say("not measurable: {why}", why=why or marked("nothing declared"))
        return CornerView(verdict, Stated(reason), "", "", "", None)
    low, high = row["corner_loss_min_stops"], row["corner_loss_max_stops"]
    loss, leans = Stated(""), Leaning.of(row)
    if leans is not None and known(high):
        by = text(row["corner_verdict_by"])
        worst = float(high) if by == "predicted" else None
        loss = Stated(likely_loss(leans.low_stops, leans.high_stops, worst), by)
    elif known(low) and known(high):
        loss = Stated(corner_loss(float(low), float(high)), marked("predicted"))
    limits = (
        say("the {opening} is in the way", opening=why) if known(high) and high >= LEAST_SHOWN_STOPS else ""
    )
    if not drawing and not limits:
        loss = Stated(why)
    assumed = texts(row["corner_assumed"])
    words = plural(len(assumed), "{n} dimension assumed", "{n} dimensions assumed") if assumed else ""
    more = _more(row) if limits else ()
    return CornerView(verdict, loss, limits, _rule(row), words, drawing, more, _leans(row, leans))


def _leans(row: Mapping[str, Any], leaning: Leaning | None) -> LeaningView | None:
    """Which way an undecided corner leans; that the picture decided it."""
    if leaning is None:
        return None
    measured = text(row["corner_verdict_by"]) == "measured"
    words = marked("as the picture shows") if measured else leaning.words
    clear, cut = round(100 * leaning.clear_share), round(100 * leaning.cut_share)
    return LeaningView(words, clear, max(100 - clear - cut, 0), cut)


def _rule(row: Mapping[str, Any]) -> str:
    """What the rules of thumb say, "" where they are silent."""
    verdict = text(row["rule_verdict"])
    if verdict in ("", "silent"):
        return ""
    if verdict == "fine":
        return marked("the rule of thumb says fine")
    return say("the rule of thumb says {verdict}: {rule}", verdict=verdict, rule=text(row["rule_words"]))


def _more(row: Mapping[str, Any]) -> tuple[str, ...]:
    """Where the cut lies, the crop that saves the frame, and the lens' own falloff."""
    words = []
    if known(row["corner_onset_deg"]):
        words.append(
            say(
                "half a stop is lost from {angle}° off the middle ({first}° to {last}°); "
                "the corner lies at {corner}°",
                angle=number(row["corner_onset_deg"], 1),
                first=number(row["corner_onset_deg"] - row["corner_early_deg"], 1),
                last=number(row["corner_onset_deg"] + row["corner_late_deg"], 1),
                corner=number(row["corner_angle_deg"], 1),
            )
        )
    if known(row["widest_clear_mm"]):
        clear = widest_clear(*(float(row[f"widest_clear_{end}mm"]) for end in ("", "best_", "worst_")))
        words.append(say("{clear} at this f-number", clear=clear))
    if known(row["clean_crop_share"]):
        words.append(_crop_words(row["clean_crop_share"], row["clean_crop_worst_share"]))
    if known(row["natural_falloff_stops"]):
        words.append(
            say(
                "the lens itself darkens the corner by {loss}, not counted here ({source})",
                loss=stops(row["natural_falloff_stops"]),
                source=text(row["natural_falloff_source"]),
            )
        )
    return tuple(words)


def _crop_words(share: float, worst: Any) -> str:
    if not known(worst):
        return say("crop to {share:.0f} % of the picture (at worst no crop saves it)", share=100 * share)
    return say(
        "crop to {share:.0f} % of the picture ({worst:.0f} % to be safe)",
        share=100 * share,
        worst=100 * worst,
    )
