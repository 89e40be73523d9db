"""Numbers as figures, and measured values with their range."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache, reduce

from audit.message.text import figure, marked, say


def all_of(names: Sequence[str]) -> str:
    """`a and b`, of the photographer's own words."""
    return _row(names, marked("{first_name} and {last_name}"), marked("{names} and {last_name}"))


def one_of(names: Sequence[str]) -> str:
    """`a or b`, of the photographer's own words."""
    return _row(names, marked("{first_name} or {last_name}"), marked("{names} or {last_name}"))


def all_phrases(phrases: Sequence[str]) -> str:
    """`a and b`, of phrases that are translated."""
    return reduce(lambda one, other: say("{one} and {other}", one=one, other=other), phrases)


def _row(names: Sequence[str], two: str, more: str) -> str:
    """The names by a message for the first two and one for each that follows."""
    if len(names) < 2:
        return "".join(names)
    text = say(two, first_name=names[0], last_name=names[1])
    for name in names[2:]:
        text = say(more, names=text, last_name=name)
    return text


def duration(seconds: float) -> str:
    """An exposure time in words: 1/60 s, 0.5 s, 4 min 16 s."""
    if seconds < 0.4:
        return f"1/{1 / seconds:.0f} s"
    if seconds < 60:
        return say("{amount} s", amount=figure(f"{seconds:.3g}"))
    minutes, rest = divmod(round(seconds), 60)
    return say("{minutes} min {rest} s", minutes=minutes, rest=rest) if rest else f"{minutes} min"


MINUS = "\N{MINUS SIGN}"


def plus_minus(value: float, err: float, digits: int = 1) -> str:
    """A measured value with its 95 % range, both to the same decimals; a range rounds up to show."""
    shown = f"{value:.{digits}f}".replace("-", MINUS)
    if not float(f"{value:.{digits}f}"):
        shown = shown.removeprefix(MINUS)
    if not math.isfinite(err):
        return figure(shown)
    return figure(f"{shown} ± {max(err, 10.0**-digits):.{digits}f}")


@lru_cache(maxsize=10_000)
def number(value: float, digits: int = 2) -> str:
    """Rounded to `digits` decimals without trailing zeros: 11.31, 16, 0.6."""
    shown = f"{value:.{digits}f}"
    shown = shown.rstrip("0").rstrip(".") if "." in shown else shown
    return figure("0" if shown == "-0" else shown.replace("-", MINUS))
