"""The errors and mistakes that are the user's to mend: one clear line each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

NOTHING, SOMETHING, CANNOT, OUR_FAULT = range(4)
"""Exit codes: nothing to act on, something; the job could not be done; a fault of this program."""


class AuditError(Exception):
    """Something the user can mend: says what, in which file or key, and what to do."""


@dataclass(frozen=True, order=True)
class Mistake:
    """Where (`path` as shown, `line`, `key`), what is wrong and what to do; `level` is error or warning."""

    path: str
    line: int
    key: str
    text: str
    level: str = "error"

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.key + ': ' if self.key else ''}{self.text}"


PLACES_SHOWN = 3
"""Of a mistake that was made often, so many places are named."""
LINES_TOLD = 100
"""Nobody reads more of them at once; the report has all."""


def alike(mistakes: Iterable[Mistake]) -> list[list[Mistake]]:
    """Mistakes that say the same of one key, together, in the order of the first of each."""
    found: dict[tuple[object, ...], list[Mistake]] = {}
    for one in mistakes:
        place = one.key or (one.path, one.line)  # what is wrong with a whole file is told of each
        found.setdefault((place, one.text, one.level), []).append(one)
    return list(found.values())


def grouped(mistakes: Iterable[Mistake]) -> list[str]:
    """A line for each mistake; one made in many places is one line with its count and the first of them."""
    lines = []
    for first, *more in alike(mistakes):
        places = ", ".join(f"{one.path}:{one.line}" for one in more[:PLACES_SHOWN])
        rest = f" and {len(more) - PLACES_SHOWN} more" if len(more) > PLACES_SHOWN else ""
        lines.append(f"{first} (and {len(more)} more of the same: {places}{rest})" if more else str(first))
    if len(lines) > LINES_TOLD:
        return [*lines[:LINES_TOLD], f"and {len(lines) - LINES_TOLD} more lines like these; mend these first"]
    return lines


class DeclarationError(AuditError):
    """Kit or declarations cannot be understood; carries every mistake of every file read."""

    def __init__(self, mistakes: tuple[Mistake, ...]) -> None:
        super().__init__("\n".join(str(m) for m in mistakes))
        self.mistakes = mistakes
