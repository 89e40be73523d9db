"""The chance of each class of filters in each unit, from everything that speaks of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from audit.exposure import prior
from audit.exposure.daylight import LEVELS, MIDDLE_EV100, brightest, fresh_light, fresh_row
from audit.exposure.manner import manner_weights
from audit.exposure.observations import NOTHING, Units
from audit.exposure.states import States
from audit.exposure.witness import seen_beside, witnesses
from audit.kit.kit import Kit
from audit.optics.arrays import Floats
from audit.optics.markov import Chain, Posterior, Runs, forward_backward

SIDE_BY_SIDE = 16
"""Runs that go through the chain together."""
Places = NDArray[np.int64]
Paces = tuple[tuple[float, float], ...]
Spans = list[tuple[int, int]]
Flags = NDArray[np.bool_]


def class_chances(units: Units, states: States, kit: Kit) -> Iterator[tuple[Places, NDArray[np.float32]]]:
    """Places of some units and the chance of each class (C) in them, until all units have had their turn.

    Where there are several bodies each is heard alone first, for what it says of the light to the others.
    """
    inputs = _inputs(units, states, kit)
    witness = witnesses(units)
    if (witness >= 0).any():
        middle, heard = _middle(units), np.zeros(len(units.value), dtype=bool)
        heard[witness[witness >= 0]] = True
        level = np.zeros(len(units.value))
        for at, posterior in _passed(inputs, states, _spans(units.new_run, heard), prior.PACES[:1]):
            level[at] = posterior.level
        ev100, off = seen_beside(units, witness, level + middle)
        inputs = replace(inputs, beside=(ev100 - middle, off))
    for at, posterior in _passed(inputs, states, _spans(units.new_run), prior.PACES):
        yield at, posterior.classes


@dataclass(frozen=True)
class _Mixed:
    """Chance of each class (n, C) and mean level (n) of some units."""

    classes: NDArray[np.float32]
    level: NDArray[np.float32]


def _passed(inputs: _Inputs, states: States, spans: Spans, paces: Paces) -> Iterator[tuple[Places, _Mixed]]:
    """Runs through the chain, some side by side, with the pace of changes that each run bears out."""
    chain = Chain(LEVELS, states.quick, states.slow, states.start, prior.RESTART_VAR)
    for begin in range(0, len(spans), SIDE_BY_SIDE):
        some = spans[begin : begin + SIDE_BY_SIDE]
        runs = _runs(inputs, some)
        paced = forward_backward(chain, runs, [pace for pace, _ in paces])
        both = _mixed(paced, np.array([odds for _, odds in paces]))
        sizes = [stop - start for start, stop in some]
        at = np.concatenate([np.arange(start, stop) for start, stop in some])
        yield (
            at,
            _Mixed(
                np.concatenate([row[:size] for row, size in zip(both.classes, sizes, strict=True)]),
                np.concatenate([row[:size] for row, size in zip(both.level, sizes, strict=True)]),
            ),
        )


def _mixed(paced: list[Posterior], odds: Floats) -> _Mixed:
    """The posteriors together, each by its odds and by how likely it makes the run."""
    logs = np.array([p.log_likelihood for p in paced]) + np.log(odds)[:, None]
    shares = np.exp(logs - logs.max(axis=0))
    shares = (shares / shares.sum(axis=0)).astype(np.float32)
    return _Mixed(
        np.sum([p.classes * w[:, None, None] for p, w in zip(paced, shares, strict=True)], axis=0),
        np.sum([p.level * w[:, None] for p, w in zip(paced, shares, strict=True)], axis=0),
    )


def _middle(units: Units) -> Floats:
    """The light that `LEVELS` lie about: the sky's, where it is known."""
    return np.where(np.isnan(units.sky), MIDDLE_EV100, units.sky)


@dataclass(frozen=True)
class _Inputs:
    """Everything by unit, and the tables the units point into."""

    table: NDArray[np.float32]
    cell: NDArray[np.int32]
    place: tuple[Places, Places]
    ceiling: Floats
    beside: tuple[Floats, Floats]
    fresh_row: Places
    steps: tuple[Floats, Floats, Floats]
    renew: Floats
    changes: tuple[Floats, Floats]
    weights: tuple[NDArray[np.float32], NDArray[np.float32]]
    rows: tuple[Places, Places]


def _inputs(units: Units, states: States, kit: Kit) -> _Inputs:
    middle = _middle(units)
    width = 2 * prior.REACH + 1
    fine = LEVELS[:, None] - states.stops
    cell = np.rint(fine / prior.FINE_STOPS).astype(np.int32) + states.with_extra * np.int32(width)

    def place(kind: Places, value: Floats) -> Places:
        reading = np.clip(np.nan_to_num(value - middle), -24, 24)
        return kind * 2 * width + prior.REACH - np.rint(reading / prior.FINE_STOPS).astype(np.int64)

    as_set = np.where(units.set_kind == NOTHING, NOTHING, units.set_kind + prior.KINDS)
    none = len(units.declarations)
    manner, by_manner = manner_weights(units, states)
    return _Inputs(
        table=prior.likelihood_table(states.extra_ranges),
        cell=cell.astype(np.int32),
        place=(place(units.kind, units.value), place(as_set, units.set_value)),
        ceiling=brightest(units.sky) - middle,
        beside=(np.zeros(len(middle)), np.zeros(len(middle))),
        fresh_row=fresh_row(units.sky, np.where(units.timed, units.second, np.nan)),
        steps=prior.light_step(units.between_s, units.new_setup, ~np.isnan(units.sky)),
        renew=prior.renewal(units.between_s, units.new_setup),
        changes=prior.change_chance(units.gap_s, units.new_setup),
        weights=(
            prior.declared_weights(states, kit, units.declarations).astype(np.float32),
            by_manner.astype(np.float32),
        ),
        rows=(np.where(units.declared < 0, none, units.declared), manner),
    )


def _spans(new_run: Flags, wanted: Flags | None = None) -> Spans:
    """Begin and end of the runs, those with a unit that is wanted, short ones first."""
    starts = np.flatnonzero(new_run)
    stops = np.append(starts[1:], len(new_run))
    if wanted is not None and len(starts):
        some = np.logical_or.reduceat(wanted, starts)
        starts, stops = starts[some], stops[some]
    return sorted(zip(starts.tolist(), stops.tolist(), strict=True), key=lambda s: s[1] - s[0])


def _runs(inputs: _Inputs, spans: Spans) -> Runs:
    sizes = np.array([stop - start for start, stop in spans])
    at = np.array([start for start, _ in spans])[:, None] + np.arange(sizes.max())
    at = np.minimum(at, len(inputs.renew) - 1)  # behind a run's end stands anything

    def take(values: Floats) -> NDArray[np.float32]:
        return values[at].astype(np.float32)

    declared, manner = (row[at] for row in inputs.rows)
    variance, jump, size = inputs.steps
    change, hasty = inputs.changes
    return Runs(
        length=sizes.astype(np.int32),
        table=inputs.table,
        place=inputs.place[0][at].astype(np.int32),
        second=inputs.place[1][at].astype(np.int32),
        cell=inputs.cell,
        class_weight=inputs.weights[0][declared] * inputs.weights[1][manner],
        ceiling=take(inputs.ceiling),
        beside=take(inputs.beside[0]),
        beside_sd=take(inputs.beside[1]),
        walk_var=take(variance),
        jump=take(jump),
        jump_stops=take(size),
        change=take(change),
        hasty=take(hasty),
        fresh=fresh_light(),
        fresh_row=inputs.fresh_row[at].astype(np.int32),
        renew=take(inputs.renew),
    )
