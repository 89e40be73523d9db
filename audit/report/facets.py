"""What a reader may narrow a list of frames by, from what was found to the single filter.

Each choice has a short value that stands on the rows of a page as `day.2` and in its address as `day=2`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from audit.declare.rig import WHOLLY_KNOWN, Rig
from audit.declare.rig_words import filter_words
from audit.kit.kit import Filter, Kit, ScrewIn
from audit.message.text import marked, say
from audit.report import frame_words
from audit.report.days import day_words
from audit.report.words import known, text
from audit.result import Result

Choice = tuple[str, str, bool]
"""Value and words of one choice, and whether they are a name, which no language changes."""
Told = tuple[str, bool]
"""Words, and whether they are a name."""
Parts = dict[str, Sequence[Told]]
"""The words of one frame, or of one rig, by facet."""

VERDICTS = ("clear", "at risk", "cut")
"""Corner verdicts, from good to bad; others are that there is none."""
NO_LENS = marked("lens unknown")
NOT_KNOWN = (marked("not known"), False)
FOUND = {
    "act": marked("to act on"),
    "look": marked("to look at"),
    "note": marked("noted"),
    "none": marked("nothing found"),
}
NO_PARTS: Parts = {"filter": [NOT_KNOWN], "ring": [NOT_KNOWN], "holder": [NOT_KNOWN]}
"""Where it is not known what was worn."""
TITLES = {
    "level": marked("Found"),
    "check": marked("Finding"),
    "corner": marked("Corners"),
    "filter": marked("Filter"),
    "day": marked("Day"),
    "ring": marked("Ring"),
    "holder": marked("Holder"),
    "rig": marked("Worn"),
    "lens": marked("Lens"),
    "body": marked("Body"),
}


@dataclass(frozen=True)
class Facet:
    """One thing to narrow by: its key in the page, its name, its choices in order."""

    key: str
    name: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class Marks:
    """What stands on one row of a page: the numbers of its frames, and all it may be found by."""

    frames: tuple[int, ...]
    found: tuple[str, ...]


class Facets:
    """Choices of a trip, and what stands on its frames."""

    def __init__(self, result: Result) -> None:
        parts = {name: _parts(rig, result.kit) for name, rig in result.rigs.items()}
        told = {text(row["frame"]): _told(row, parts) for row in result.rows}
        values = {key: _numbered(each[key] for each in told.values()) for key in _TOLD}
        self._number = {text(row["frame"]): n for n, row in enumerate(result.rows, start=1)}
        self._once: dict[tuple[str, ...], tuple[str, ...]] = {}
        self._of = {
            name: self._same(f"{key}.{values[key][one]}" for key in _TOLD for one in each[key])
            for name, each in told.items()
        }
        self._found: dict[str, list[str]] = {}
        for finding in result.findings:
            for name in finding.frames:
                self._found.setdefault(name, []).append(f"check.{finding.check}")
        checks = {run.info.id: run.info.title for run in result.checks}
        checks = {f.check: checks.get(f.check, f.check) for f in result.findings}
        choices: dict[str, Iterable[Choice]] = {
            "level": ((level, words, False) for level, words in FOUND.items()),
            "check": ((c, w, False) for c, w in sorted(checks.items(), key=lambda item: item[1])),
        }
        for key in _TOLD:
            choices[key] = ((value, words, own) for (words, own), value in values[key].items())
        self.all = tuple(Facet(key, TITLES[key], tuple(choices[key])) for key in TITLES)

    def of(self, names: Iterable[str], level: str, check: str = "") -> Marks:
        """The marks of a row of some frames; `check` where it speaks of one only; unknown names have none."""
        there = [name for name in names if name in self._of]
        found = [f"check.{check}"] if check else [one for name in there for one in self._found.get(name, ())]
        found += [one for name in there for one in self._of[name]]
        numbers = tuple(dict.fromkeys(self._number[name] for name in there))
        return Marks(numbers, self._same(dict.fromkeys([f"level.{level or 'none'}", *found])))

    def _same(self, found: Iterable[str]) -> tuple[str, ...]:
        """The marks, in memory once for all rows that have the same."""
        marks = tuple(found)
        return self._once.setdefault(marks, marks)


def within(facets: Iterable[Facet], rows: Iterable[Marks]) -> tuple[Facet, ...]:
    """The facets of one page: choices that a row of it has, and only where there are two to choose from."""
    there = {one for row in rows for one in row.found}
    left = (replace(f, choices=tuple(c for c in f.choices if f"{f.key}.{c[0]}" in there)) for f in facets)
    return tuple(facet for facet in left if len(facet.choices) > 1)


_TOLD = ("corner", "filter", "day", "ring", "holder", "rig", "lens", "body")


def _told(
    row: Mapping[str, Any], parts: Mapping[str, dict[str, Sequence[Told]]]
) -> dict[str, Sequence[Told]]:
    """The words of one frame by facet; `parts` are those of each rig by its id."""
    lens = text(row["lens"]) or text(row["lens_id"])
    body = frame_words.body_words(text(row["body"])) or marked("body unknown")
    verdict = text(row["corner_verdict"]) or marked("not measurable")
    told: Parts = {
        "corner": [(verdict, False)],
        "day": [(day_words(row["captured_at"]) or marked("without a time"), False)],
        "rig": [(frame_words.worn(row), False)],
        "lens": [(lens, True) if lens else (NO_LENS, False)],
        "body": [(body, False)],
    }
    if known(row["problem"]):
        told["corner"] = [(marked("not read"), False)]
    return told | parts.get(text(row["rig"]), NO_PARTS)


def _parts(rig: Rig, kit: Kit) -> Parts:
    """Filters, ring and holders of a rig one by one, or that there is none of a kind."""
    if rig.state not in WHOLLY_KNOWN:
        return NO_PARTS
    holders = [(name, True) for name in (rig.holder, rig.second_holder) if name]
    return {
        "filter": [_filter(name, kit) for name in rig.filters] or [(marked("no filter"), False)],
        "ring": [_ring(rig.ring, kit)] if rig.ring else [(marked("no ring"), False)],
        "holder": holders or [(marked("no holder"), False)],
    }


def _filter(name: str, kit: Kit) -> Told:
    """By its words, with its id, since two may be of one strength."""
    parts: list[Filter | ScrewIn] = [*kit.filters, *kit.screw_ins]
    part = next((part for part in parts if part.id == name), None)
    if part is None:
        return name, True
    return say("{filter} ({part_name})", filter=filter_words(part), part_name=name), False


def _ring(name: str, kit: Kit) -> Told:
    ring = kit.ring(name)
    if ring is None:
        return name, True
    return say("{ring_name}, {thread:g} mm", ring_name=name, thread=ring.thread_mm), False


def _numbered(values: Iterable[Sequence[Told]]) -> dict[Told, str]:
    """Each of some words with its number; verdicts from good to bad, the rest by the alphabet."""
    distinct = {one for each in values for one in each}
    first = {verdict: n for n, verdict in enumerate(VERDICTS)}
    ordered = sorted(distinct, key=lambda told: (first.get(told[0], len(first)), told))
    return {told: str(n) for n, told in enumerate(ordered, start=1)}
