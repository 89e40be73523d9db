"""Strengths that are possible, and yet likely in the wrong unit: by value, by name, by what stands beside."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from audit.kit.readings import (
    DENSEST_GRAD_STOPS,
    GRADS,
    LABELS,
    agree,
    in_stops,
    is_density,
    is_factor,
    other_strengths,
    strengths_in_words,
    told_stops,
    written,
)
from audit.kit.strength import Strength
from audit.message.text import marked, say
from audit.toml.fault import Fault

NO_STOPS = frozenset({0.3, 0.6, 0.9, 1.2, 1.8, 2.1, 2.4, 2.7, 3.6, 4.8})
"""Densities that filters are sold by, and no number of stops: common practice, no source."""

NO_FACTOR = frozenset({3.0, 5.0, 6.0, 7.0, 9.0, 11.0, 13.0, 14.0, 15.0})
"""Numbers of stops by which no neutral filter is sold as a factor: common practice, no source."""

BEYOND_STOPS = 12.0
"""From here on, a name that tells the number as stops outweighs a rare, very dense filter: assumed."""

LEAST_NAMED, NAMED_OFF_STOPS = 32.0, 1.0
"""From this factor on "nd" and a number counts no stops or pieces; so far may a value be from it: assumed."""

BEYOND_DOUBT = re.compile(r"g?nd[-_ ]?(0\d|\d\.\d+|\d{2,6})(?:[-_ ]?[a-z]+)?", re.IGNORECASE)

MEASURED_OFF_STOPS = 1.5
"""A measured strength so far from its label may be in another unit: assumed."""

POLARISER = re.compile(r"c?pol|c?pl|polari[sz]er|polfilter", re.IGNORECASE)
GRAD = re.compile(r"gnd\d*|grad|hard|soft", re.IGNORECASE)


def strength_faults(part: Strength, remark: str, others: Sequence[Strength]) -> Iterator[Fault]:
    """What is doubtful in a filter's strength and kind; `remark` is the comment beside the strength."""
    key = next((key for key in LABELS if getattr(part, key) is not None), None)
    yield from _kind(part)
    if key is None or part.kind not in ("neutral", *GRADS):
        return
    value = float(getattr(part, key))
    meant = _meant(part, key, value, remark, others)
    if meant:
        words = marked("that is {stops:.3g} stops, unlikely by its value or its name; write {meant_written}?")
        told = say(words, stops=in_stops(key, value), meant_written=strengths_in_words(meant))
        yield Fault(key, told, "warning")
    elif part.kind in GRADS and part.label_stops[1] > DENSEST_GRAD_STOPS:
        words = marked(
            'that is {stops:.3g} stops, more than any grad; read its rim again, or write kind = "neutral"'
        )
        yield Fault(key, say(words, stops=in_stops(key, value)), "warning")
    else:
        yield from _measured(part)


def _meant(
    part: Strength, key: str, value: float, remark: str, others: Sequence[Strength]
) -> list[tuple[str, float]]:
    """Strengths that are likelier than the one written."""
    stops = in_stops(key, value)
    found = other_strengths(key, value, part.kind)
    told, number = told_stops(part.id, remark)
    by_name = [(k, v) for k, v in found if agree(in_stops(k, v), told)]
    if agree(stops, told) or (number == stops and _counts_stops(others)):
        return []
    if by_name and (number != value or key != "density" or stops > BEYOND_STOPS):
        return by_name
    if key == "stops" and value in NO_STOPS:
        return [(k, v) for k, v in found if k == "density"]
    if key == "factor" and (value in NO_FACTOR or value in NO_STOPS):
        return found
    if part.kind in GRADS and stops > DENSEST_GRAD_STOPS and found:
        return found
    return _as_named(part, key, value, stops)


def _as_named(part: Strength, key: str, value: float, stops: float) -> list[tuple[str, float]]:
    """The strength that a name tells beyond doubt ("nd64", "gnd09"), where the value is far from it."""
    match = BEYOND_DOUBT.fullmatch(part.id)
    if match is None:
        return []
    number = match.group(1)
    named = ("density", float(number)) if "." in number else ("factor", float(number))
    if number.startswith("0") and "." not in number:
        named = ("density", float(number) / 10)
    sold = is_density(named[1]) if named[0] == "density" else is_factor(named[1]) and named[1] >= LEAST_NAMED
    if not sold or abs(in_stops(named[0], named[1]) - stops) <= NAMED_OFF_STOPS:
        return []
    slipped = [
        (key, v) for v in (value * 10, value / 10) if agree(in_stops(key, v), [in_stops(named[0], named[1])])
    ]
    return slipped or [named]


def _counts_stops(others: Sequence[Strength]) -> bool:
    """Whether the names of other filters show that this photographer counts stops after "nd"."""
    for other in others:
        told, number = told_stops(other.id, "")
        by_nd = other.id.casefold().startswith("nd")
        if by_nd and other.label_stops[0] == number and told == [number]:
            return True
    return False


def _measured(part: Strength) -> Iterator[Fault]:
    label, measured = part.label_stops[0], part.measured_stops
    if measured is None or abs(measured - label) < MEASURED_OFF_STOPS:
        return
    stops = in_stops("density", measured)
    if abs(stops - label) < MEASURED_OFF_STOPS:
        words = marked(
            "{value_written} is far from the label, {label:.3g} stops; if it is a density, write {key} = "
            "{meant:.3g}"
        )
        said = {"value_written": written(measured), "label": label, "key": "measured_stops", "meant": stops}
        yield Fault("measured_stops", say(words, **said), "warning")


def _kind(part: Strength) -> Iterator[Fault]:
    if part.kind != "neutral":
        return
    if POLARISER.fullmatch(part.id.rstrip("-_ 0123456789")):
        words = marked('the name says polariser; write kind = "polariser"?')
        yield Fault("kind", words, "warning")
    elif GRAD.search(part.id) and not part.id.casefold().startswith("soften"):
        words = marked('the name says grad; write kind = "grad-hard" or "grad-soft"?')
        yield Fault("kind", words, "warning")
