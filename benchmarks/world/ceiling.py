"""What could be known: a filter over light and filters that is given this world's own distributions.

It knows the clear sky of the day with its ridge, where setups begin, the true strength of each filter, and,
by counting in other seeds, how the light differs from the clear sky, how it moves within and between setups,
how true a picture's brightness is, how often each rig is put on, kept and taken off, and with what program,
ISO and f-number. It doesn't know the clouds, the framings, the recompositions or the wishes of this trip. It
treats these as independent of each other, so that it is a good reference and no strict bound.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import product
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from benchmarks.world.trip import WorldTrip

Floats = NDArray[np.float64]
Manner = tuple[Any, ...]

Pace = tuple[bool, int]
Dense = tuple[int, bool]

GRID = np.arange(-10.0, 6.01, 0.25)
EXTRAS = {0: 0.0, 1: 1.0, 2: 1.5, 3: 2.5}
"""None, grad, polariser, both: usual loss in mean brightness, stops."""
EXTRA_ERR_STOPS = 0.5
LEARN_FROM, LEARN_TRIPS = 90_000, 300
LIGHT_BINS = 10
MISSES = np.arange(-16.0, 16.01, 0.1)


def table_of(world: WorldTrip) -> pd.DataFrame:
    """Truth and what the files say, one body after the other."""
    rows = pd.DataFrame(world.scan_rows)[
        ["frame", "ev100", "iso", "f_number", "exposure_program", "exposure_bias_stops"]
    ]
    rows["exposure_bias_stops"] = rows["exposure_bias_stops"].astype("float64")
    table = world.truth.drop(columns="bias").merge(rows, on="frame", validate="one_to_one")
    table["picture"] = world.picture_stops
    middle = (table["start_s"] + table["seconds"] / 2).to_numpy()
    table["clear"] = world.sky.clear_ev100(middle)
    table["over"] = table["light_ev100"] - table["clear"]
    table["neutrals"] = [tuple(i for i in ids if i.startswith("n")) for ids in table["ids"]]
    table["extra"] = [int(any(i[0] == "g" for i in ids)) + 2 * int("pol" in ids) for ids in table["ids"]]
    return table


def observed(row: dict[str, Any]) -> tuple[float, str]:
    """Light behind the filters by one frame, and by what it is known."""
    ev, picture, bias = (float(row[k]) for k in ("ev100", "picture", "exposure_bias_stops"))
    if not math.isnan(picture):
        return ev + picture, "picture"
    if row["exposure_program"] == "manual":
        return ev, "manual"
    return ev + (0.0 if math.isnan(bias) else bias), "metered"


def _pace(before: dict[str, Any], row: dict[str, Any]) -> Pace:
    """Same setup or not, and how long ago, in steps of four times the seconds from 15 s."""
    seconds = max(row["start_s"] - before["start_s"], 1.0)
    return before["setup"] == row["setup"], int(np.clip(math.log2(seconds / 15) // 2, 0, 4))


def _manner(row: dict[str, Any]) -> Manner:
    """How the camera was set; empty before the first frame."""
    if not row:
        return ("", 0, False)
    speed = int(np.clip(math.log2(row["iso"] / 100) // 1.5, 0, 4))
    return row["exposure_program"], speed, row["f_number"] < 7


def _dense(stops: float, extra: int) -> Dense:
    return int(np.searchsorted((0.5, 4.5, 7.5, 11.5), stops)), bool(extra > 0)


@dataclass
class Known:
    """Distributions of the world, counted. `moves` are levels before and after, by pace."""

    levels: list[float] = field(default_factory=list)
    moves: dict[Pace, list[tuple[float, float]]] = field(default_factory=lambda: defaultdict(list))
    kept: dict[Manner, list[float]] = field(default_factory=lambda: defaultdict(lambda: [1.0, 2.0]))
    rigs: dict[tuple[str, bool], Counter[Any]] = field(default_factory=lambda: defaultdict(Counter))
    chosen: dict[Dense, Floats] = field(default_factory=lambda: defaultdict(lambda: np.full(LIGHT_BINS, 0.5)))
    manners: dict[tuple[Dense, Manner], Counter[Manner]] = field(default_factory=lambda: defaultdict(Counter))
    errors: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    kernels: dict[Pace, Floats] = field(default_factory=dict)
    first: Floats = field(default_factory=lambda: np.ones(len(GRID)))
    misses: dict[tuple[str, bool], Floats] = field(default_factory=dict)


def learn(worlds: Iterable[WorldTrip]) -> Known:
    """Counts over trips that no figure is taken from."""
    known = Known()
    for world in worlds:
        for _, part in table_of(world).groupby("body"):
            _count(known, world.bag.kit, part.sort_values("start_s").to_dict("records"))
    known.first = _density(np.array(known.levels), 0.2, GRID)
    known.first /= known.first.sum()
    for pace, moved in known.moves.items():
        known.kernels[pace] = _kernel(np.array(moved))
    for how, errors in known.errors.items():
        for wide, width in ((False, 0.08), (True, EXTRA_ERR_STOPS)):
            known.misses[how, wide] = _density(np.array(errors), width, MISSES) + 1e-4
    return known


def _count(known: Known, kit: str, rows: list[dict[str, Any]]) -> None:
    before: dict[str, Any] = {}
    for row in rows:
        known.levels.append(row["over"])
        seen, how = observed(row)
        known.errors[how].append(seen - (row["light_ev100"] - row["even_stops"] - row["grad_stops"]))
        dense = _dense(row["label_stops"], row["extra"])
        known.manners[dense, _manner(before)][_manner(row)] += 1
        changed = not before or before["ids"] != row["ids"]
        if before:
            pace = _pace(before, row)
            known.moves[pace].append((before["over"], row["over"]))
            kept = known.kept[*pace, before["ids"] == (), _manner(row)[0]]
            kept[0] += not changed
            kept[1] += 1
        if changed:
            known.rigs[kit, not before or before["ids"] == ()][frozenset(row["neutrals"]), row["extra"]] += 1
            known.chosen[dense][_light_bin(row["clear"] + row["over"])] += 1
        before = row


def _light_bin(ev: Any) -> Any:
    return np.clip((np.asarray(ev) + 2) / 2, 0, LIGHT_BINS - 1).astype(int)


def _density(values: Floats, width: float, at: Floats) -> Floats:
    """Smoothed histogram of the values at those points."""
    some = values[:: max(len(values) // 2000, 1)]
    found: Floats = np.exp(-0.5 * ((at[:, None] - some[None, :]) / width) ** 2).mean(axis=1) / width
    return found + 1e-5


def _kernel(moved: Floats) -> Floats:
    """Chance to go from one level of the grid to another: back to the middle, and what is left over."""
    before, after = moved[:, 0], moved[:, 1]
    slope = 1.0
    if len(moved) > 30 and before.std() > 0.1:
        slope = float(np.clip(np.polyfit(before, after, 1)[0], 0.0, 1.0))
    left = after - slope * before
    width = 0.12 + 0.3 / math.sqrt(len(moved) / 20 + 1)
    fine = np.arange(-22.0, 22.01, 0.05)
    chance = np.interp(GRID[None, :] - slope * GRID[:, None], fine, _density(left, width, fine))
    kernel: Floats = chance / chance.sum(axis=1, keepdims=True)
    return kernel


@dataclass(frozen=True)
class _Rigs:
    """The rigs of one kit: label stops, true loss, extras, how often put on after a worn and a bare frame."""

    label: Floats
    loss: Floats
    extra: NDArray[np.int64]
    often: tuple[Floats, Floats]


def _rigs(known: Known, world: WorldTrip) -> _Rigs:
    strength = {g.id: g for g in world.bag.neutrals}
    extras = EXTRAS if world.bag.polariser else {0: 0.0}
    flags = product((0, 1), repeat=len(strength))
    sets = [frozenset(i for i, on in zip(strength, some, strict=True) if on) for some in flags]
    found = list(product(sets, extras))
    often = []
    for bare in (False, True):
        count = known.rigs[world.bag.kit, bare]
        often.append(np.array([count[rig] + 0.2 for rig in found]) / (count.total() + 0.2 * len(found)))
    return _Rigs(
        label=np.array([sum(strength[i].label_stops for i in some) for some, _ in found]),
        loss=np.array([sum(strength[i].true_stops for i in some) + EXTRAS[extra] for some, extra in found]),
        extra=np.array([extra for _, extra in found]),
        often=(often[0], often[1]),
    )


def _likely(known: Known, rigs: _Rigs, before: dict[str, Any], row: dict[str, Any]) -> Floats:
    """Likelihood of one frame for each rig and light; its manner counts where it differs from the last."""
    seen, how = observed(row)
    off = seen - (row["clear"] + GRID[None, :] - rigs.loss[:, None])
    fit = np.empty_like(off)
    for place, (label, extra) in enumerate(zip(rigs.label, rigs.extra, strict=True)):
        counted = known.manners[_dense(label, extra), _manner(before)]
        fit[place] = np.interp(off[place], MISSES, known.misses[how, bool(extra)])
        fit[place] *= (counted[_manner(row)] + 1) / (counted.total() + 15)
    return fit


def _chosen(known: Known, rigs: _Rigs, row: dict[str, Any]) -> tuple[Floats, Floats]:
    """Chance of each rig to be put on in each light, after a worn and after a bare frame."""
    bins = _light_bin(row["clear"] + GRID)
    shares = np.empty((len(rigs.label), len(GRID)))
    for place, (label, extra) in enumerate(zip(rigs.label, rigs.extra, strict=True)):
        counted = known.chosen[_dense(label, extra)]
        shares[place] = (counted / counted.sum())[bins]
    after = [often[:, None] * shares for often in rigs.often]
    return after[0] / after[0].sum(axis=0), after[1] / after[1].sum(axis=0)


def best_stops(known: Known, world: WorldTrip) -> pd.Series:
    """Most probable stops of the neutrals (by the label) of each frame, by name."""
    rigs, found = _rigs(known, world), {}
    near = np.abs(rigs.label[:, None] - rigs.label[None, :]) <= 0.5
    for _, part in table_of(world).groupby("body"):
        rows = part.sort_values("start_s").to_dict("records")
        for row, chance in zip(rows, _smoothed(known, rigs, rows), strict=True):
            found[str(row["frame"])] = float(rigs.label[int(np.argmax(near @ chance))])
    return pd.Series(found)


def _smoothed(known: Known, rigs: _Rigs, rows: list[dict[str, Any]]) -> list[Floats]:
    """Chance of each rig at each frame, by what came before and after."""
    bare = rigs.loss == 0
    likely = [_likely(known, rigs, b, r) for b, r in zip([{}, *rows], rows, strict=False)]
    forward = [_chosen(known, rigs, rows[0])[1] * known.first * likely[0]]
    steps = []
    for before, row, fit in zip(rows, rows[1:], likely[1:], strict=False):
        pace = _pace(before, row)
        stay = [known.kept[*pace, was, _manner(row)[0]] for was in (False, True)]
        keep = np.where(bare, stay[1][0] / stay[1][1], stay[0][0] / stay[0][1])[:, None]
        kernel, new = known.kernels[pace], _chosen(known, rigs, row)
        steps.append((keep, kernel, new))
        moved = (forward[-1] / forward[-1].sum()) @ kernel
        left = (1 - keep) * moved
        now = keep * moved + new[0] * left[~bare].sum(axis=0) + new[1] * left[bare].sum(axis=0)
        forward.append(now * fit)
    back = np.ones_like(likely[0])
    chances = [forward[-1].sum(axis=1)]
    for (keep, kernel, new), fit, alpha in zip(steps[::-1], likely[:0:-1], forward[-2::-1], strict=True):
        ahead = back * fit
        taken = np.where(bare[:, None], (new[1] * ahead).sum(axis=0), (new[0] * ahead).sum(axis=0))
        back = (keep * ahead + (1 - keep) * taken) @ kernel.T
        back /= back.sum()
        chances.append((alpha * back).sum(axis=1))
    return [c / c.sum() for c in chances[::-1]]
