"""Filters held against their labels as a text table and as JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from audit.message.figures import number, plus_minus
from audit.pixels.labels import FilterLabel
from audit.report.view_filters import pairs_words
from audit.report.words import span

HEAD = ("filter", "declared", "measured", "if the light held", "spread", "from", "")


def text(labels: Sequence[FilterLabel]) -> str:
    """One line a filter that was measured, then the others with the reason."""
    told = [one for one in labels if not one.shown.why]
    rows = [HEAD, *(_row(one) for one in told)] if told else []
    widths = [max(len(row[i]) for row in rows) for i in range(len(HEAD))] if rows else []
    lines = ["  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows]
    not_told = [f"  {one.shown.filter}: {one.shown.why}" for one in labels if one.shown.why]
    if not_told:
        lines += [*([""] if lines else []), "not measured:", *not_told]
    return "\n".join(lines)


def _row(one: FilterLabel) -> tuple[str, ...]:
    shown = one.shown
    return (
        shown.filter,
        _declared(one),
        plus_minus(shown.stops, shown.err_stops),
        plus_minus(shown.stops, shown.held_err_stops),
        number(shown.spread_stops) if math.isfinite(shown.spread_stops) else "",
        pairs_words(shown),
        one.words,
    )


def _declared(one: FilterLabel) -> str:
    declared = span(*one.shown.declared_stops, digits=2)
    if one.label_stops == one.shown.declared_stops:
        return declared
    return f"{declared} (label {span(*one.label_stops, digits=2)})"


def as_json(labels: Sequence[FilterLabel]) -> list[dict[str, Any]]:
    """Plain data, null where nothing is known; errors are 95 % half widths, strengths in stops."""
    return [
        _plain(
            {
                **asdict(one.shown),
                "label_stops": one.label_stops,
                "off_stops": one.off_stops,
                "words": one.words,
                "values": one.values,
            }
        )
        for one in labels
    ]


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
