"""Numbers and names in the words a reader sees, with how sure each number is."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache, wraps
from pathlib import PurePosixPath, PureWindowsPath
from typing import Any

import pandas as pd

from audit.corners.prediction import BLACK_STOPS
from audit.message.figures import number
from audit.message.text import joined, marked, say

KEPT_WORDS = 5_000
"""Words of one kind that stay in memory: a trip has a few cameras, lenses and exposures, and many frames."""
LEAST_SHOWN_STOPS = 0.05
"""Losses below this round to nothing."""


@dataclass(frozen=True)
class Stated:
    """A value in words; `sure` is predicted, measured, declared, estimated, assumed or "" (as written)."""

    text: str
    sure: str = ""


def known(value: Any) -> bool:
    """Whether a cell of the table holds something: not null, NaN, NaT or empty."""
    if type(value) is float:
        return value == value  # most cells are numbers: quicker than to ask pandas, which tells the rest
    if value is None or isinstance(value, str | list | tuple):
        return bool(value)
    if isinstance(value, Iterable):
        return len(list(value)) > 0
    return not bool(pd.isna(value))


def by_cells(*names: str) -> Callable[[Callable[..., str]], Callable[..., str]]:
    """Words that follow from these cells of a row alone, none of them a sentence: made once for rows alike.

    A function that reads another cell fails at once, since it gets no others.
    """

    def remembering(words: Callable[..., str]) -> Callable[..., str]:
        @lru_cache(KEPT_WORDS)
        def made(cells: tuple[Any, ...], more: tuple[Any, ...]) -> str:
            return words(dict(zip(names, cells, strict=True)), *more)

        @wraps(words)
        def of(row: Mapping[str, Any], *more: Any) -> str:
            cells = (row[name] for name in names)
            return made(tuple(None if cell != cell else cell for cell in cells), more)

        return of

    return remembering


def text(value: Any) -> str:
    """The cell as text, "" where it is null."""
    return value if isinstance(value, str) else str(value) if known(value) else ""


def texts(value: Any) -> list[str]:
    """The cell of a list column as a list, empty where it is null."""
    if not known(value) or isinstance(value, str):
        return [value] if isinstance(value, str) and value else []
    return list(value) if isinstance(value, Iterable) else []


def span(low: float, high: float, digits: int = 1) -> str:
    """A range, or one number where both ends read the same."""
    first, last = number(low, digits), number(high, digits)
    return first if first == last else say("{low} to {high}", low=first, high=last)


def stops(low: float, high: float | None = None, digits: int = 1) -> str:
    """A loss or a range of losses in stops: "1 stop", "0.6 to 1.4 stops"."""
    words = span(low, low if high is None else high, digits)
    return say("{one} stop", one=words) if words == "1" else say("{amount} stops", amount=words)


def corner_loss(low: float, high: float) -> str:
    """The corner's loss between the best and the worst end of its band; inf is black."""
    if high < LEAST_SHOWN_STOPS:
        return marked("nothing lost in the corner")
    if math.isinf(low):
        return marked("black in the corner")
    if not math.isinf(high):
        return say("{loss} lost in the corner", loss=stops(low, high))
    if low < LEAST_SHOWN_STOPS:
        return marked("nothing lost in the corner at best, black at worst")
    return say("{loss} lost in the corner at best, black at worst", loss=stops(low))


def likely_loss(low: float, high: float, at_worst: float | None) -> str:
    """The corner's loss as likely as not, and what it may come to; None where a picture was measured."""
    if low >= BLACK_STOPS:
        return marked("the corner may well be black")
    if high >= BLACK_STOPS:
        if low < LEAST_SHOWN_STOPS:
            return marked("anything from nothing to black may be lost in the corner")
        return say("{loss} or more may well be lost in the corner", loss=stops(low))
    if high < LEAST_SHOWN_STOPS:
        likely = marked("probably nothing lost in the corner")
    else:
        likely = say("roughly {loss} lost in the corner", loss=stops(low, high))
    if at_worst is None:
        return likely
    if math.isinf(at_worst):
        return joined([likely, marked("black at worst")], ", ")
    return joined([likely, say("{loss} at worst", loss=stops(at_worst))], ", ")


def widest_clear(middle_mm: float, best_mm: float, worst_mm: float) -> str:
    """The widest clear focal length with its band; inf where no focal length is clear."""
    best, middle, worst = (number(mm, 1) for mm in (best_mm, middle_mm, worst_mm))
    if math.isinf(best_mm):
        return marked("clear at no focal length")
    if math.isinf(middle_mm):
        return say("clear at no focal length; from {best} mm at best", best=best)
    if math.isinf(worst_mm):
        return say("clear from {focal} mm ({best} at best, nowhere at worst)", focal=middle, best=best)
    return say("clear from {focal} mm ({best} to {worst})", focal=middle, best=best, worst=worst)


def seconds(value: float) -> str:
    """An exposure time: "1/125 s", "0.4 s", "240 s (4 min)"."""
    if 0 < value < 0.3:
        return say("1/{part} s", part=number(1 / value, 0 if value < 0.06 else 1))
    if value < 60:
        return say("{amount} s", amount=number(value, 1 if value >= 10 else 2))
    minutes, rest = divmod(round(value), 60)
    whole = say("{minutes} min {rest} s", minutes=minutes, rest=rest) if rest else f"{minutes} min"
    return say("{amount} s ({minutes})", amount=number(value, 0), minutes=whole)


def without_folders(path: str) -> str:
    """The path as it may be shown: an absolute one loses its folders, since they name the owner's disk."""
    if PurePosixPath(path).is_absolute():
        return PurePosixPath(path).name
    return PureWindowsPath(path).name if PureWindowsPath(path).is_absolute() else path
