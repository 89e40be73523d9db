"""Which frames the photographer chose for prints, and which were put aside."""

from __future__ import annotations

from dataclasses import dataclass, field

from audit.errors import Mistake
from audit.message.text import marked

PROPOSED = marked("proposed")
_RATED = "rating "


def rated(stars: float) -> str:
    """How a frame was chosen by its rating, as the table says it."""
    return f"{_RATED}{stars:g}"


def stars_of(kept: str) -> str:
    """The rating in what `rated` made, "" for a frame that was chosen otherwise."""
    return kept.removeprefix(_RATED) if kept.startswith(_RATED) else ""


@dataclass(frozen=True)
class Chosen:
    """`kept` maps a frame to how ("keep.txt", "rating 4") and where it was chosen; `rejected` frames never
    are proposed. Empty where nobody chose.
    """

    kept: dict[str, tuple[str, str]] = field(default_factory=dict)
    rejected: frozenset[str] = frozenset()
    mistakes: tuple[Mistake, ...] = ()
