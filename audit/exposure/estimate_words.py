"""What is told of each unit: the class, how sure, and the evidence in words."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from audit.exposure.certainty import (
    DOUBT_NONE,
    DOUBT_REST,
    DOUBT_SOME,
    LEAST_ERR_STOPS,
    LIKELY,
    NONE_ODDS,
    SURE,
    WITHIN_STOPS,
    doubted,
)
from audit.exposure.observations import MANUAL, NOTHING, RENDERED, Units
from audit.exposure.states import States, class_words, extra_words
from audit.message.text import figure, joined, marked, say
from audit.optics.arrays import Floats

EXTRA_TOLD = 0.98
EXTRA_STATES = ("off", "open", "on")
OFF, OPEN, ON = range(3)
"""Places of the states of an extra: certainly off, open, certainly on."""
NAMED, MOST_NAMED = 0.95, 4
"""Classes are named until together they have this chance, and at most so many."""
MOVED_STOPS = 0.5


@dataclass(frozen=True)
class Told:
    """(U) of each: stops of the neutrals, their error, class in words, sure/likely/unsure, its chance.

    `plain_words` leave out an extra that may or may not be on; `several`: more than one set of filters fits.
    `sets` are the sets of neutrals that the best class holds, ids joined by "+", "" for none.
    """

    stops: Floats
    err_stops: Floats
    class_words: NDArray[np.object_]
    plain_words: NDArray[np.object_]
    several: NDArray[np.bool_]
    sure: NDArray[np.object_]
    probability: Floats
    best: NDArray[np.int64]
    sets: NDArray[np.object_]


def told(states: States, chances: NDArray[np.float32], left: NDArray[np.bool_]) -> Told:
    """The estimate of each unit: the stops with most chance within half a stop of them.

    `left` (U): of a composition that the photographer left out, while he declared others of the run.
    """
    plain = np.flatnonzero(~states.with_extra)
    extra = np.flatnonzero(states.with_extra)
    stops = states.stops[plain]
    neutral = chances[:, plain].astype(float)
    with_extra = np.zeros_like(neutral)
    for column, at in zip(extra, _partners(states, plain, extra), strict=True):
        with_extra[:, at] += chances[:, column]
    neutral += with_extra
    none = stops == 0
    odds = np.where(none, NONE_ODDS, 1.0)
    neutral, with_extra = neutral * odds, with_extra * odds
    total = neutral.sum(axis=1, keepdims=True)
    neutral, with_extra = neutral / total, with_extra / total
    near = (np.abs(stops[:, None] - stops) <= WITHIN_STOPS).astype(float)
    within = neutral @ near
    best = np.argmax(within + 1e-3 * neutral, axis=1)
    doubt = np.where(none[best], DOUBT_NONE, DOUBT_SOME) + np.where(left, DOUBT_REST, 0.0)
    probability = doubted(within[np.arange(len(best)), best], doubt)
    away = (stops - stops[best][:, None]) ** 2
    err = np.sqrt(np.maximum((neutral * away).sum(axis=1), LEAST_ERR_STOPS**2))
    share = with_extra / np.maximum(neutral, 1e-12)
    on = np.where(share > EXTRA_TOLD, ON, np.where(share < 1 - EXTRA_TOLD, OFF, OPEN))
    named = _named(neutral, best)
    words = _class_words(states, plain, on, named)
    plain_words = _class_words(states, plain, np.where(on == OPEN, OFF, on), named)
    sets = np.empty(len(plain), dtype=object)
    sets[:] = [["+".join(ids) for ids in states.classes[p].members] for p in plain]
    several = _several(states, plain, on, named)
    return Told(
        stops[best], err, words, plain_words, several, sure_words(probability), probability, best, sets[best]
    )


def cautious(said: Told, most: Floats) -> Told:
    """The same with no more certainty than `most`."""
    probability = np.minimum(said.probability, most)
    return replace(said, probability=probability, sure=sure_words(probability))


def sure_words(probability: Floats) -> NDArray[np.object_]:
    """Sure, likely or unsure, by the stated chance."""
    less = np.where(probability >= LIKELY, marked("likely"), marked("unsure"))
    return np.where(probability >= SURE, marked("sure"), less).astype(object)


def _named(neutral: Floats, best: NDArray[np.int64]) -> list[list[int]]:
    """The classes named of each unit: the best, and others until together they have `NAMED` of the chance."""
    named = [[int(k)] for k in best]
    for unit in np.flatnonzero(neutral[np.arange(len(best)), best] < NAMED):
        order = [best[unit], *(k for k in np.argsort(-neutral[unit]) if k != best[unit])]
        reached = np.cumsum(neutral[unit, order])
        named[unit] = [int(k) for k in order[: min(int(np.searchsorted(reached, NAMED)) + 1, MOST_NAMED)]]
    return named


def _several(
    states: States, plain: NDArray[np.int64], on: NDArray[np.int64], named: list[list[int]]
) -> NDArray[np.bool_]:
    """(U) whether more than one set of filters is named."""
    sets = np.array([len(states.classes[p].members) for p in plain])
    many = len(states.extras) > 1
    found = [
        len(of) > 1 or bool(sets[of[0]] > 1) or (many and on[unit, of[0]] == ON)
        for unit, of in enumerate(named)
    ]
    return np.array(found, dtype=bool)


def _class_words(
    states: States, plain: NDArray[np.int64], on: NDArray[np.int64], named: list[list[int]]
) -> NDArray[np.object_]:
    """The classes named of each unit, in words."""
    heads = [class_words(states.classes[p]) for p in plain]
    one = [[joined([head, extra_words(states.extras, word)], "") for word in EXTRA_STATES] for head in heads]
    out = np.empty(len(named), dtype=object)
    for unit, of in enumerate(named):
        states_on = {int(on[unit, k]) for k in of}
        if len(of) > 1 and len(states_on) == 1:
            tail = extra_words(states.extras, EXTRA_STATES[states_on.pop()], each=True)
            out[unit] = joined([_any_of([heads[k] for k in of]), tail], "")
        else:
            out[unit] = _any_of([one[k][on[unit, k]] for k in of])
    return out


def _any_of(classes: list[str]) -> str:
    return reduce(lambda words, other: say("{classes}; or {other}", classes=words, other=other), classes)


def _partners(states: States, plain: NDArray[np.int64], extra: NDArray[np.int64]) -> list[int]:
    """For each class with an extra the place among the others of the one with the same neutrals."""
    place = {ids: at for at, p in enumerate(plain) for ids in states.classes[p].members}
    nearest = [int(np.abs(states.stops[plain] - states.stops[e]).argmin()) for e in extra]
    return [place.get(states.classes[e].members[0], near) for e, near in zip(extra, nearest, strict=True)]


def evidence(units: Units, said: Told, blind: NDArray[np.bool_], jumps: Floats) -> list[str]:
    """One line for each unit: what the exposure did, and how the estimate follows from it.

    `blind`: nothing tells; `jumps`: stops that nothing in the kit takes (0: none).
    """
    moved = np.append([0.0], np.diff(units.value))
    changed = np.append([True], np.diff(said.best) != 0)
    setting = [
        _setting(t, n) for t, n in zip(units.exposure_s.tolist(), units.f_number.tolist(), strict=True)
    ]
    heads = [
        _head(*values)
        for values in zip(
            units.kind.tolist(),
            units.declared.tolist(),
            units.new_run.tolist(),
            units.new_setup.tolist(),
            changed.tolist(),
            moved.tolist(),
            blind.tolist(),
            jumps.tolist(),
            strict=True,
        )
    ]
    return [joined(both) for both in zip(heads, setting, strict=True)]


_BY = {MANUAL: marked("set by hand"), RENDERED: marked("with the picture's brightness")}
_HELD = (marked("ev100 held while the scene held"), marked("ev100 held with a new composition"))
_STEPS = {
    (True, False): marked("ev100 rose {stops:.1f} while the scene held"),
    (True, True): marked("ev100 rose {stops:.1f} with a new composition"),
    (False, False): marked("ev100 fell {stops:.1f} while the scene held"),
    (False, True): marked("ev100 fell {stops:.1f} with a new composition"),
}
"""By whether ev100 rose, and whether the composition is a new one."""
_NOTHING_TAKES = (
    marked("about {stops:.0f} stops came off here, and nothing in the kit takes that"),
    marked("about {stops:.0f} stops went on here, and nothing in the kit takes that"),
)


def _head(
    kind: int,
    declared: int,
    new_run: bool,
    new_setup: bool,
    changed: bool,
    moved: float,
    blind: bool,
    jump: float,
) -> str:
    if declared >= 0:
        return marked("declared")
    if kind == NOTHING:
        return marked("no exposure to go by; the frames beside it")
    if blind:
        return marked("no step of ev100 and no declaration nearby: a filter looks like darker light")
    if new_run or np.isnan(moved):
        return joined([marked("nothing just before to compare with"), _BY.get(kind, "")], ", ")
    if jump:
        return joined([say(_NOTHING_TAKES[jump > 0], stops=abs(jump)), _BY.get(kind, "")], ", ")
    if abs(moved) < MOVED_STOPS:
        return joined([_HELD[new_setup], _BY.get(kind, "")], ", ")
    step = say(_STEPS[moved > 0, new_setup], stops=abs(moved))
    doubt = "" if changed else marked("no more than the light or metering may change")
    return joined([step, doubt, _BY.get(kind, "")], ", ")


def _setting(time_s: float, f_number: float) -> str:
    """4 min at f/11."""
    if not time_s > 0:
        return ""
    if time_s >= 60:
        time = say("{minutes:.3g} min", minutes=time_s / 60)
    elif time_s >= 0.4:
        time = say("{amount} s", amount=figure(f"{time_s:.3g}"))
    else:
        time = f"1/{1 / time_s:.0f} s"
    return say("{time} at f/{f_number:.2g}", time=time, f_number=f_number) if f_number > 0 else time
