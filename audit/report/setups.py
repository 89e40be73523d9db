"""A setup of the trip: what all its frames share is said once, what differs stands in a table."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from audit.message.text import joined, marked, plural, say
from audit.report import setup_light
from audit.report.frame_words import body_words
from audit.report.links import Link
from audit.report.rig_side import RigSide
from audit.report.setup_light import LightView
from audit.report.values import Told, Values, values
from audit.report.view_frames import CornerView, FrameView
from audit.report.words import LEAST_SHOWN_STOPS, Stated, known, span, stops, text

Row = Mapping[Any, Any]

FACTS: tuple[tuple[str, Callable[[FrameView], str]], ...] = (
    (marked("Day"), lambda frame: frame.day),
    (marked("Camera"), lambda frame: frame.camera),
    (marked("Lens"), lambda frame: frame.lens),
    (marked("Light"), lambda frame: frame.light),
    (marked("Taken as"), lambda frame: frame.sequence),
)
"""What is said once for a setup where all its frames agree, else in a column."""


@dataclass(frozen=True)
class Worn:
    """What was worn on some frames of a setup; `letter` names it, `declared` holds the places that say so."""

    letter: str
    words: str
    declared: tuple[Stated, ...]
    total: Stated
    side: RigSide | None
    count: str


@dataclass(frozen=True)
class On:
    """What was on with one and the same effect in the corners."""

    worn: tuple[Worn, ...]
    corner: CornerView | None


@dataclass(frozen=True)
class FrameRow:
    """One frame in the table of what differs."""

    frame: FrameView
    letter: str
    cells: tuple[str, ...]


@dataclass(frozen=True)
class SetupView:
    """One setup with its frames in order.

    `shared` holds (name, words) of what all frames share, `columns` the names of what differs. `alone` marks
    frames of no setup, which were not taken side by side; their `light` is None.
    """

    anchor: str
    title: str
    summary: str
    shared: tuple[tuple[str, str], ...]
    on: tuple[On, ...]
    columns: tuple[str, ...]
    rows: tuple[FrameRow, ...]
    light: LightView | None
    known: Callable[[], tuple[Values, ...]]
    alone: bool = False

    @property
    def several(self) -> bool:
        """Whether more than one thing was worn, which its letter tells apart."""
        return sum(len(on.worn) for on in self.on) > 1

    @property
    def frames(self) -> tuple[FrameView, ...]:
        """Its frames in order."""
        return tuple(row.frame for row in self.rows)


def setup_view(
    rows: Sequence[Row],
    shown: Sequence[FrameView],
    anchor: str,
    sides: Mapping[str, RigSide | None],
    judged: frozenset[str],
    *,
    alone: bool,
    told: Sequence[Told],
) -> SetupView:
    """The setup of these rows of the table.

    `sides` draws a rig by its id, `judged` as by judged_scenes, `told` are the columns that are told of it.
    """
    links = [Link(frame.anchor, frame.name) for frame in shown]
    shared, columns = _facts(shown)
    on, letters = _on(rows, shown, sides)
    differ = [dict(FACTS)[name] for name in columns]
    return SetupView(
        anchor,
        title=marked("Frames of no setup") if alone else _title(rows, shown),
        summary=_light(rows, len(shown)),
        shared=shared,
        on=on,
        columns=columns,
        rows=tuple(
            FrameRow(frame, letter, tuple(words(frame) for words in differ))
            for frame, letter in zip(shown, letters, strict=True)
        ),
        light=None if alone else setup_light.setup_light(rows, links, judged),
        known=lambda: values(rows, [frame.name for frame in shown], told),
        alone=alone,
    )


def _facts(shown: Sequence[FrameView]) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
    """What all readable frames share, and the names of what differs."""
    shared, differ = [], []
    for name, words in FACTS:
        told = {words(frame) for frame in shown if not frame.problem}
        if len(told) > 1:
            differ.append(name)
        elif found := "".join(told):
            shared.append((name, found))
    return tuple(shared), tuple(differ)


def _on(
    rows: Sequence[Row], shown: Sequence[FrameView], sides: Mapping[str, RigSide | None]
) -> tuple[tuple[On, ...], list[str]]:
    """What was on in order of first use, by its corners; each frame's letter, "" for an unreadable one."""
    found: dict[CornerView | None, dict[tuple[str, Stated, str], list[FrameView]]] = {}
    for row, frame in zip(rows, shown, strict=True):
        if not frame.problem:
            said = replace(frame.corner, drawing=None) if frame.corner else None
            rig = frame.worn, frame.total, text(row["rig"])
            found.setdefault(said, {}).setdefault(rig, []).append(frame)
    on: list[On] = []
    letters: dict[str, str] = {}
    for rigs in found.values():
        told: list[Worn] = []
        corner = next(iter(rigs.values()))[0].corner  # of rigs that differ by a plate's glass one is drawn
        for (words, total, key), frames in rigs.items():
            letter = _letter(sum(len(one.worn) for one in on) + len(told))
            letters |= {frame.anchor: letter for frame in frames}
            declared = tuple(dict.fromkeys(frame.declared for frame in frames))
            count = plural(len(frames), "{n} frame", "{n} frames")
            told.append(Worn(letter, words, declared, total, sides.get(key), count))
        on.append(On(tuple(told), corner))
    return tuple(on), [letters.get(frame.anchor, "") for frame in shown]


def _letter(n: int) -> str:
    """A, B ... Z, AA, AB ..."""
    return (_letter(n // 26 - 1) if n >= 26 else "") + chr(ord("A") + n % 26)


def _numbers(rows: Sequence[Row], column: str) -> list[float]:
    """What is known of a column."""
    return [float(row[column]) for row in rows if known(row[column])]


def _title(rows: Sequence[Row], shown: Sequence[FrameView]) -> str:
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
    """How many frames, the light of their scene, and how far from it they lie."""
    parts = [plural(count, "{n} frame", "{n} frames")]
    if scene := _numbers(rows, "scene_light_ev100"):
        light = span(min(scene), max(scene))
        parts.append(say("the scene's light is EV100 {light} by its own frames", light=light))
    off = max(map(abs, _numbers(rows, "light_residual_stops")), default=0.0)
    if scene and off >= LEAST_SHOWN_STOPS:
        parts.append(say("each frame within {amount} of it", amount=stops(off)))
    return joined(parts, "; ")
