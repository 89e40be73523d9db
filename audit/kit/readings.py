"""What a number may have been: in another unit, without its point, with its digits changed over."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Collection, Iterator

import numpy as np

from audit.message.figures import one_of
from audit.message.text import marked, say
from audit.optics.arrays import Reals
from audit.optics.density import stops_from_density, stops_from_factor

INCH_MM = 25.4
"""ISO 80000-3; by definition."""

LARGE_MM = 100.0
"""Widths of plates and bores are named in inches, thicknesses are not: common practice, no source."""

ALSO_SOLD = (10.0, 100.0, 200.0, 400.0, 500.0, 1000.0, 32_000.0, 100_000.0)
"""Factors on the rims of neutral filters that are no power of two: common practice, no source."""

NO_OTHER_FACTOR = (2.0, 10.0)
"""Factors that are sold, and yet far rarer than as many stops: common practice, no source."""

LABELS: dict[str, Callable[[float], Reals]] = {
    "stops": np.float64,
    "density": stops_from_density,
    "factor": stops_from_factor,
}
"""Keys of a filter's label, and what turns each into stops."""

DENSEST_STOPS = 20.0
"""Above this a strength is a slip of unit: sun filters end near 17 stops. From memory, no source."""

DENSEST_GRAD_STOPS = 5.5
"""Grads are sold with one stop to five: common practice, no source."""

GRADS = ("grad-hard", "grad-soft")
AGREES_STOPS = 0.15
"""Two readings of one strength are the same to so much: density 3.0 is 9.97 stops, factor 1000 too."""

_NUMBER = re.compile(r"(?<![\d.])(\d+(?:\.\d+)?)(?![\d.])")
_ID = re.compile(r"(?:(nd|gnd)|n|g|neutral|grad|grey|gray)[-_ ]?(\d+(?:\.\d+)?)(?![\d.]).*", re.IGNORECASE)
_REMARK = re.compile(
    r"\bnd[-_ ]?(\d+(?:\.\d+)?)(?![\d.])|(?<![\d.])(\d+(?:\.\d+)?)[ -]?stops?\b", re.IGNORECASE
)


def written(value: float) -> str:
    """A number as it stands in a file: no rounding that a reader could see."""
    return f"{value:.6g}" if abs(value) < 1e6 else f"{value:.0f}"


def lengths(value: float) -> Iterator[tuple[float, str]]:
    """What a length in mm may have been, likeliest first, and why."""
    yield value * 10, marked("if it is in cm, write {key} = {value_written}")
    yield value * INCH_MM, marked("if it is in inches, write {key} = {value_written}")
    yield value / 10, marked("if the point is missing, write {key} = {value_written}")
    digits = written(value)
    if digits.isdigit() and len(digits) == 2 and digits != digits[::-1]:
        words = marked("if the digits are changed over, write {key} = {value_written}")
        yield float(digits[::-1]), words
    if digits.isdigit() and len(digits) > 2:
        yield float(digits[:-1]), marked("if there is a digit too many, write {key} = {value_written}")


def meant_lengths(key: str, value: float, low: float, high: float) -> list[str]:
    """The readings of a length that lie in a usual range, in words."""
    found: dict[float, str] = {}
    for other, words in lengths(value):
        if other == value * INCH_MM and found and high < LARGE_MM:
            continue  # nobody measures small sizes in inches
        near = float(round(other)) if abs(other - round(other)) < 0.1 else round(other, 1)
        if low <= near <= high and near not in found:
            found[near] = say(words, key=key, value_written=written(near))
    return list(found.values())


def in_stops(key: str, value: float) -> float:
    """What a label costs."""
    return float(LABELS[key](value))


def is_factor(value: float) -> bool:
    """Whether filters are sold by this factor: a power of two, as rounded, or one of the trade's own."""
    if value < 2:
        return False
    steps = math.log2(value)
    return value in ALSO_SOLD or (abs(steps - round(steps)) < 0.05 and float(value).is_integer())


def is_density(value: float, most: float = 6.0) -> bool:
    """Whether filters are sold by this density: a stop is 0.3."""
    steps = value / 0.3
    return 0.29 < value <= most and abs(steps - round(steps)) < 1e-6


def is_stops(value: float, most: float = DENSEST_STOPS) -> bool:
    """Whether filters are sold by so many stops: whole ones, from one on."""
    return 1 <= value <= most and float(value).is_integer()


def other_strengths(key: str, value: float, kind: str) -> list[tuple[str, float]]:
    """Keys and values under which the number would be a strength that is sold."""
    grad = kind in GRADS
    most = math.floor(DENSEST_GRAD_STOPS) if grad else DENSEST_STOPS
    densest = 1.5 if grad else 6.0
    found = []
    if key != "stops" and is_stops(value, most):
        found.append(("stops", value))
    if key != "density" and is_density(value, densest):
        found.append(("density", value))
    if (
        key != "factor"
        and value not in NO_OTHER_FACTOR
        and is_factor(value)
        and in_stops("factor", value) <= most
    ):
        found.append(("factor", value))
    if key == "density" and float(value).is_integer() and is_density(value / 10, densest):
        found.append(("density", value / 10))
    return found


def told_stops(id: str, remark: str) -> tuple[list[float], float | None]:
    """Stops that the name or the remark beside a strength may tell, and the number itself."""
    match, said = _ID.fullmatch(id.strip()), _REMARK.search(remark)
    if said is not None:
        number = said.group(1) or said.group(2)
        return _as_told(number, bool(said.group(1)), bool(said.group(2))), float(number)
    if match is None:
        return [], None
    return _as_told(match.group(2), match.group(1) is not None, False), float(match.group(2))


def _as_told(number: str, by_nd: bool, by_stops: bool) -> list[float]:
    value, found = float(number), []
    if by_stops:
        return [value]
    if is_factor(value):
        found.append(in_stops("factor", value))
    if "." in number or value < 1:
        return [in_stops("density", value)]
    if number.startswith("0"):
        return [in_stops("density", value / 10), value]
    if is_stops(value) and not (by_nd and value >= 8 and found and value != 16):
        found.append(value)
    return found


def agree(stops: float, others: Collection[float]) -> bool:
    """Whether a strength is one of these."""
    return any(abs(stops - other) <= AGREES_STOPS for other in others)


def strengths_in_words(found: list[tuple[str, float]]) -> str:
    """`stops = 3 or density = 3`, as they are typed."""
    return one_of([f"{key} = {written(value)}" for key, value in found])


def too_dense(id: str, kind: str, key: str, value: float) -> str:
    """What is wrong with a strength that no filter has, and what was likely meant."""
    found = other_strengths(key, value, kind)
    by_name = [(k, v) for k, v in found if agree(in_stops(k, v), told_stops(id, "")[0])]
    if key == "stops" and not found and value > DENSEST_STOPS and math.log2(value) <= DENSEST_STOPS:
        found = [("factor", value)]
    said = {"value_written": written(value), "stops": in_stops(key, value)}
    if not found:
        words = marked(
            "{value_written} is {stops:.3g} stops, more than any filter; look at the filter's rim again"
        )
        return say(words, **said)
    meant = strengths_in_words(by_name or found)
    if key == "stops":
        return say(
            marked("{value_written} is more than any filter; write {meant_written}"),
            meant_written=meant,
            **said,
        )
    words = marked("{value_written} is {stops:.3g} stops, more than any filter; write {meant_written}")
    return say(words, meant_written=meant, **said)
