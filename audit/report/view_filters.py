"""Each filter over the whole trip: as declared, and as the pictures show it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from audit.kit.kit import Filter, ScrewIn
from audit.message.figures import plus_minus
from audit.message.text import marked, plural, say
from audit.pixels.evidence import FilterShown
from audit.report.links import SHOWN_LINKS, Link
from audit.report.pixel_words import cast_words
from audit.report.words import span, stops
from audit.result import Result

POLARISER = "polariser"


@dataclass(frozen=True)
class FilterRow:
    """One filter; `why` stands in place of the numbers where there are none."""

    name: str
    declared: str
    held: str
    changing: str
    spread: str
    used: str
    links: tuple[Link, ...]
    more: tuple[Link, ...]
    cast: str
    why: str


def filter_rows(result: Result, links: Mapping[str, Link]) -> tuple[FilterRow, ...]:
    """Filters in the kit's order; empty where no pixels were measured."""
    parts: list[Filter | ScrewIn] = [*result.kit.filters, *result.kit.screw_ins]
    turned = {part.id for part in parts if part.kind == POLARISER}
    return tuple(_row(shown, links, shown.filter in turned) for shown in result.filters)


def _row(shown: FilterShown, links: Mapping[str, Link], turned: bool) -> FilterRow:
    to = tuple(links.get(name, Link("", name)) for name in shown.frames)
    numbers = not shown.why and math.isfinite(shown.stops)
    return FilterRow(
        name=shown.filter,
        declared=stops(*shown.declared_stops, digits=2),
        held=_held(shown, turned) if numbers else "",
        changing=_range(shown.err_stops) if numbers else "",
        spread=_spread(shown) if numbers else "",
        used=pairs_words(shown) if numbers else "",
        links=to[:SHOWN_LINKS],
        more=to[SHOWN_LINKS:],
        cast=_cast(shown),
        why="" if numbers else shown.why or marked("nothing was measured"),
    )


def _held(shown: FilterShown, turned: bool) -> str:
    strength = plus_minus(shown.stops, shown.held_err_stops)
    low, high = shown.range_stops
    if turned and math.isfinite(low):
        return say(
            "{strength} stops, {turned} depending on its turn", strength=strength, turned=span(low, high)
        )
    return say("{strength} stops", strength=strength)


def _range(err: float) -> str:
    return say("± {error:.1f} stops", error=err) if math.isfinite(err) else ""


def _spread(shown: FilterShown) -> str:
    if not math.isfinite(shown.spread_stops):
        return marked("one frame")
    return say("{spread:.2f} stop", spread=shown.spread_stops)


def pairs_words(shown: FilterShown) -> str:
    """How many pairs of frames, of how many scenes, a strength was measured on."""
    pairs = plural(shown.pairs, "{n} pair", "{n} pairs")
    if not shown.scenes:
        return pairs
    return say("{pairs} in {scenes}", pairs=pairs, scenes=plural(shown.scenes, "{n} scene", "{n} scenes"))


def _cast(shown: FilterShown) -> str:
    if not math.isfinite(shown.cast_uv):
        return say("not measurable: {why}", why=shown.cast_why) if shown.cast_why else ""
    return cast_words(shown.cast_uv, shown.cast_err_uv, shown.cast_mired, shown.cast_words)
