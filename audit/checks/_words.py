"""Turns of phrase that checks share."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from audit.model.prediction import BLACK_STOPS

LEAST_STOPS = 0.05
"""A smaller loss rounds to nothing."""


def names(part: pd.DataFrame) -> tuple[str, ...]:
    """The frames of a part of the table, for a finding."""
    return tuple(part["frame"])


def body_words(label: object) -> str:
    """'body A', whether the label is the kit's "A" or already says body."""
    return str(label) if str(label).startswith("body ") else f"body {label}"


def span(values: Iterable[float], unit: str = "", digits: int = 3) -> str:
    """'16 mm' or '16 to 18 mm': the range of some numbers."""
    known = [v for v in values if pd.notna(v)]
    low, high = f"{min(known):.{digits}g}", f"{max(known):.{digits}g}"
    return f"{low if low == high else f'{low} to {high}'} {unit}".rstrip()


def lost(low: float, high: float) -> str:
    """The loss in a corner between the best and the worst end of its band."""
    if low > BLACK_STOPS:
        return "the corner is black"
    least = "nothing" if low < LEAST_STOPS else stops(low)
    if high > BLACK_STOPS:
        return f"{least} lost in the corner at best, black at worst"
    return f"{least} to {stops(high)} lost in the corner"


def stops(value: float) -> str:
    """'0.4 stops', '1 stop', '6 stops'."""
    text = f"{value:.1f}".removesuffix(".0")
    return f"{text} stop" if text == "1" else f"{text} stops"


def few(items: Iterable[str], most: int = 5) -> str:
    """The first few of a list, and how many more there are."""
    known = list(items)
    more = f" and {len(known) - most} more" if len(known) > most else ""
    return ", ".join(known[:most]) + more
