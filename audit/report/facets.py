"""What a reader may pick frames by: day, lens, rig; each choice has a number that stands in the page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from audit.message.text import marked
from audit.report import frame_words
from audit.report.days import day_words
from audit.report.words import text

Choice = tuple[int, str, bool]
"""Number and words of one choice, and whether they are a name, which no language changes."""

NO_LENS = marked("lens unknown")


@dataclass(frozen=True)
class Facet:
    """One thing to pick by: its key in the page, its name, its choices in order."""

    key: str
    name: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class Marks:
    """The numbers of one row of a table, as text with blanks between."""

    day: str
    lens: str
    rig: str


class Facets:
    """Choices of a trip, and the numbers of its frames."""

    def __init__(self, rows: Sequence[Mapping[str, Any]]) -> None:
        self._names = [text(r["frame"]) for r in rows]
        self._of: dict[str, dict[str, int]] = {}
        days = [day_words(r["captured_at"]) or marked("without a time") for r in rows]
        lenses = [text(r["lens"]) or text(r["lens_id"]) or NO_LENS for r in rows]
        rigs = [frame_words.worn(r) for r in rows]
        found = {"day": _numbered(days), "lens": _numbered(lenses), "rig": _numbered(rigs)}
        for n, name in enumerate(self._names):
            self._of[name] = {
                "day": found["day"][days[n]],
                "lens": found["lens"][lenses[n]],
                "rig": found["rig"][rigs[n]],
            }
        titles = {"day": marked("Day"), "lens": marked("Lens"), "rig": marked("Worn")}
        self.all = tuple(
            Facet(
                key,
                titles[key],
                tuple((n, words, key == "lens" and words != NO_LENS) for words, n in choices.items()),
            )
            for key, choices in found.items()
        )

    def of(self, names: Iterable[str]) -> Marks:
        """The numbers of some frames together; unknown names have none."""
        known = [self._of[name] for name in names if name in self._of]
        return Marks(*(_joined(known, key) for key in ("day", "lens", "rig")))


def _numbered(values: Sequence[str]) -> Mapping[str, int]:
    return {words: n for n, words in enumerate(sorted(set(values)), start=1)}


def _joined(found: Iterable[Mapping[str, int]], key: str) -> str:
    return " ".join(str(n) for n in sorted({each[key] for each in found}))
