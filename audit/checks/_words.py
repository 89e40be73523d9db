"""Turns of phrase that checks share."""

from __future__ import annotations

import math
from collections.abc import Iterable

import pandas as pd

from audit.corners.prediction import BLACK_STOPS
from audit.message.figures import duration, plus_minus
from audit.message.text import day, figure, joined, marked, plural, say

LEAST_STOPS = 0.05
"""A smaller loss rounds to nothing."""


def names(part: pd.DataFrame) -> tuple[str, ...]:
    """The frames of a part of the table, for a finding."""
    return tuple(part["frame"])


def body_words(label: object) -> str:
    """'body A', whether the label is the kit's "A" or already says body."""
    if not isinstance(label, str):
        return marked("camera unknown")
    return say("body {name}", name=label.removeprefix("body "))


def lens_words(lens: object) -> str:
    """The lens as EXIF names it."""
    return lens if isinstance(lens, str) else marked("lens unknown")


def span(values: Iterable[float], unit: str = "", digits: int = 3) -> str:
    """'16 mm' or '16 to 18 mm': the range of some numbers."""
    known = [v for v in values if pd.notna(v)]
    low, high = (figure(f"{v:.{digits}g}") for v in (min(known), max(known)))
    return joined([_between(low, high), unit], " ")


def whole(values: pd.Series) -> str:
    """'12' or '12 to 30': the range of some numbers without decimals."""
    return _between(f"{values.min():.0f}", f"{values.max():.0f}")


def durations(seconds: pd.Series) -> str:
    """'8 s' or '8 s to 4 min': the range of some exposure times."""
    return _between(duration(seconds.min()), duration(seconds.max()))


def days(dates: pd.Series) -> str:
    """The range of some days."""
    return _between(day(dates.min()), day(dates.max()))


def _between(low: str, high: str) -> str:
    return low if low == high else say("{low} to {high}", low=low, high=high)


def pairs(count: int) -> str:
    """How sure: a comparison of so many pairs of pictures."""
    # {count} is written without a space for thousands, {n} would be with one.
    return plural(
        count, "measured in {count} pair of pictures", "measured in {count} pairs of pictures", count=count
    )


def lost(low: float, high: float) -> str:
    """The loss in a corner between the best and the worst end of its band."""
    if low > BLACK_STOPS:
        return marked("the corner is black")
    least = marked("nothing") if low < LEAST_STOPS else stops(low)
    if high > BLACK_STOPS:
        return say("{least} lost in the corner at best, black at worst", least=least)
    return say("{least} to {most} lost in the corner", least=least, most=stops(high))


def stops(value: float) -> str:
    """'0.4 stops', '1 stop', '6 stops'."""
    text = figure(f"{value:.1f}".removesuffix(".0"))
    return say("{one} stop", one=text) if text == "1" else say("{amount} stops", amount=text)


def off_by(size: float, error: float) -> str:
    """How far something lies off, with its 95 % range where there is one."""
    if not math.isfinite(error):
        return stops(size)
    return say("{amount} stops", amount=plus_minus(size, error))


def few(items: Iterable[str], most: int = 5) -> str:
    """The first few of a list, and how many more there are."""
    known = list(items)
    shown = joined(known[:most], ", ")
    left_out = len(known) - most
    return say("{shown} and {count} more", shown=shown, count=left_out) if left_out > 0 else shown
