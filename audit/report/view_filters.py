"""Each filter over the whole trip: as declared, and as the pictures show it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from audit.model.evidence import FilterShown
from audit.model.kit import Filter, ScrewIn
from audit.model.result import Result
from audit.report.links import SHOWN_LINKS, Link
from audit.report.pixel_words import plus_minus
from audit.report.words import counted, span, stops

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
        used=_used(shown) if numbers else "",
        links=to[:SHOWN_LINKS],
        more=to[SHOWN_LINKS:],
        cast=_cast(shown),
        why="" if numbers else shown.why or "nothing was measured",
    )


def _held(shown: FilterShown, turned: bool) -> str:
    words = f"{plus_minus(shown.stops, shown.held_err_stops)} stops"
    low, high = shown.range_stops
    return f"{words}, {span(low, high)} by its turn" if turned and math.isfinite(low) else words


def _range(err: float) -> str:
    return f"± {err:.1f} stops" if math.isfinite(err) else ""


def _spread(shown: FilterShown) -> str:
    return f"{shown.spread_stops:.2f} stop" if math.isfinite(shown.spread_stops) else "one frame"


def _used(shown: FilterShown) -> str:
    pairs = counted(shown.pairs, "pair")
    return f"{pairs} in {counted(shown.scenes, 'scene')}" if shown.scenes else pairs


def _cast(shown: FilterShown) -> str:
    if not math.isfinite(shown.cast_uv):
        return f"not measurable: {shown.cast_why}" if shown.cast_why else ""
    mired = f", {shown.cast_mired:+.0f} mired" if math.isfinite(shown.cast_mired) else ""
    words = f"{shown.cast_words}: " if shown.cast_words else ""
    return f"{words}{shown.cast_uv:.3f} in u'v'{mired}".replace("-", "\N{MINUS SIGN}")
