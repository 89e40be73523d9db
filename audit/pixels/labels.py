"""Filters held against their labels over a whole trip, and what of it may go into the kit."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from audit.kit.kit import Filter, Kit, ScrewIn
from audit.kit.part import KitValue
from audit.message.text import marked, say
from audit.pixels.evidence import FilterShown

LEAST_PAIRS, LEAST_SCENES = 3, 2
OFF_STOPS = 0.2
"""Less does not matter to an exposure."""
ANOTHER_STOPS = 1.5
"""A label is not off by so much: it is another filter than declared."""


@dataclass(frozen=True)
class FilterLabel:
    """One filter: its label, what the pictures show, in words what follows, and the kit's new keys, if any.

    `off_stops` is measured less what the kit says now, NaN where nothing was measured or a range is declared.
    """

    table: str
    label_stops: tuple[float, float]
    shown: FilterShown
    off_stops: float
    words: str
    values: dict[str, KitValue] = field(default_factory=dict)


def labels(filters: Iterable[FilterShown], kit: Kit) -> tuple[FilterLabel, ...]:
    """Each measured filter of a trip against its label, in the order given.

    New keys only where a filter proves off: measured often enough, beyond `OFF_STOPS` and beyond its range.
    """
    parts: dict[str, tuple[str, Filter | ScrewIn]] = {
        **{part.id: ("screw_in", part) for part in kit.screw_ins},
        **{part.id: ("filter", part) for part in kit.filters},
    }
    return tuple(_label(shown, *parts[shown.filter]) for shown in filters if shown.filter in parts)


def _label(shown: FilterShown, table: str, part: Filter | ScrewIn) -> FilterLabel:
    low, high = shown.declared_stops
    off = shown.stops - low if low == high and not shown.why else math.nan
    words, proved = _verdict(shown, off, part)
    return FilterLabel(table, part.label_stops, shown, off, words, _values(shown) if proved else {})


def _verdict(shown: FilterShown, off: float, part: Filter | ScrewIn) -> tuple[str, bool]:
    """What follows, in words, and whether the kit may be changed."""
    if shown.why:
        return say("not measured: {why}", why=shown.why), False
    if part.kind not in ("neutral", "other"):
        return marked("changes with its turn: nothing to write"), False
    if abs(off) <= OFF_STOPS:
        return marked("as declared"), False
    if not abs(off) > shown.err_stops:
        return marked("not told from what is declared"), False
    words = marked("takes {amount:.1f} stops less than declared")
    if off > 0:
        words = marked("takes {amount:.1f} stops more than declared")
    takes = say(words, amount=abs(off))
    if abs(off) >= ANOTHER_STOPS:
        return say("{takes}: is it another filter?", takes=takes), False
    if shown.pairs < LEAST_PAIRS or shown.scenes < LEAST_SCENES:
        words = marked("{takes}; {pairs} pairs in {scenes} scenes would prove it")
        return say(words, takes=takes, pairs=LEAST_PAIRS, scenes=LEAST_SCENES), False
    return takes, True


def _values(shown: FilterShown) -> dict[str, KitValue]:
    """To a tenth of a stop, the range upwards."""
    return {
        "measured_stops": round(shown.stops, 1),
        "measured_err_stops": math.ceil(shown.err_stops * 10 - 1e-9) / 10,
    }
