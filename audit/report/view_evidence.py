"""What pictures show, as it stands in the page: beside a finding and in a frame's own lines."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from audit.message.text import marked, say
from audit.pixels.evidence import Evidence
from audit.report import frame_words, pixel_words
from audit.report.heat import Plate, plate
from audit.report.links import Link
from audit.report.thumbnails import Thumbnail
from audit.report.words import Stated, known, text
from audit.result import Result

CORNERS = frozenset({"corners", "corners-shown", "corner-rules", "corner-stack", "corner-hint"})
STRENGTH = frozenset({"filter-strength", "exposure-sum", "unit-slip", "too-bright"})
CAST = frozenset({"colour-cast"})
"""Checks by the measurement that bears on them; to all others two pictures of a scene say nothing."""

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Side:
    """One picture of a pair: its place in the page, what was on, and words for those who cannot see it."""

    link: Link
    worn: str
    picture: Thumbnail
    alt: str


@dataclass(frozen=True)
class EvidenceView:
    """A pair beside a finding; `plate` is None where brightness is not what it is about."""

    worn: Side
    against: Side
    plate: Plate | None
    measured: Stated
    beside: tuple[Stated, ...]


@dataclass(frozen=True)
class LineView:
    """One line of a frame with the frame it leads to, if any."""

    name: str
    said: Stated
    link: Link | None


@dataclass(frozen=True)
class PixelsView:
    """All lines of a frame; `why` stands alone where nothing was measured."""

    summary: str
    why: str
    lines: tuple[LineView, ...]
    plate: Plate | None


class EvidenceViews:
    """Evidence by frame, each plate made once and named h1, h2 ... in the table's order."""

    def __init__(
        self, result: Result, links: Mapping[str, Link], picture: Callable[[Row], Thumbnail]
    ) -> None:
        self._rows = {text(row["frame"]): row for row in reversed(result.rows)}
        self._links, self._picture = links, picture
        usable = {name: e for name in self._rows if (e := result.evidence.get(name)) and self._usable(e)}
        order = [name for name in links if name in usable]
        self._evidence = usable
        self._plates = {
            name: plate(usable[name], _orientation(self._rows[name]), f"h{n}")
            for n, name in enumerate(order, start=1)
        }

    @property
    def plates(self) -> tuple[Plate, ...]:
        """Every plate of the page."""
        return tuple(self._plates.values())

    def of_finding(self, check: str, frames: tuple[str, ...]) -> EvidenceView | None:
        """The pair that bears best on a finding: the largest corner loss, else the first measured."""
        told = [name for name in frames if name in self._evidence and _number(check, self._rows[name])]
        if not told:
            return None
        best = max(told, key=lambda n: self._rows[n]["shown_loss_stops"]) if check in CORNERS else told[0]
        return self._pair(check, best)

    def of_frame(self, row: Row) -> PixelsView | None:
        """The lines of one row; None where nobody looked at its pixels."""
        lines, why = pixel_words.lines(row), pixel_words.why_none(row)
        if not lines and not why:
            return None
        shown = tuple(
            LineView(line.name, line.said, self._links.get(line.other, Link("", line.other)))
            if line.other
            else LineView(line.name, line.said, None)
            for line in lines
        )
        return PixelsView(pixel_words.summary(row), why, shown, self._plates.get(text(row["frame"])))

    def _usable(self, evidence: Evidence) -> bool:
        return evidence.against in self._rows and evidence.darker.ndim == 2 and evidence.darker.size > 0

    def _pair(self, check: str, name: str) -> EvidenceView:
        row, other = self._rows[name], self._rows[self._evidence[name].against]
        number = _number(check, row)
        worn = say(
            "{frame}, {worn}: {number}, measured",
            frame=self._links[name].text,
            worn=frame_words.worn(row),
            number=number,
        )
        against = say(
            "{frame}, {worn}, compared with it",
            frame=self._links[text(other["frame"])].text,
            worn=frame_words.worn(other),
        )
        return EvidenceView(
            worn=self._side(row, worn),
            against=self._side(other, against),
            plate=None if check in CAST else self._plates[name],
            measured=Stated(number, marked("measured")),
            beside=tuple(_beside(check, row)),
        )

    def _side(self, row: Row, alt: str) -> Side:
        return Side(self._links[text(row["frame"])], frame_words.worn(row), self._picture(row), alt)


def _number(check: str, row: Row) -> str:
    """The number that bears on a check, or ""."""
    if check in CORNERS:
        return pixel_words.corners_mean(row)
    if check in STRENGTH:
        return pixel_words.strength(row)
    return pixel_words.cast(row) if check in CAST else ""


def _beside(check: str, row: Row) -> list[Stated]:
    """What was predicted or declared for the same number."""
    if check in CORNERS:
        there = pixel_words.predicted_there(row)
        if not there:
            return []
        return [Stated(say("{loss} over the same corners", loss=there), marked("predicted"))]
    if check in STRENGTH:
        total = frame_words.total(row)
        return [total] if total.text else []
    return []


def _orientation(row: Row) -> int:
    return int(row["orientation"]) if known(row["orientation"]) else 1
