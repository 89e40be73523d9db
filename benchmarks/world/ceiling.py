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

from benchmarks.world.trip import WorldTrip, trip

Floats = NDArray[np.float64]
Manner = tuple[Any, ...]

GRID = np.arange(-10.0, 6.01, 0.25)
EXTRAS = {0: 0.0, 1: 1.0, 2: 1.5, 3: 2.5}
"""None, grad, polariser, both: usual loss in mean brightness, stops."""
EXTRA_ERR_STOPS = 0.5
LEARN_FROM, LEARN_TRIPS = 90_000, 150


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


def _pace(before: dict[str, Any], row: dict[str, Any]) -> tuple[bool, int]:
    """Same setup or not, and how long ago, in steps of four times the seconds from 15 s."""
    seconds = max(float(row["start_s"]) - float(before["start_s"]), 1.0)
    return before["setup"] == row["setup"], int(np.clip(math.log2(seconds / 15) // 2, 0, 4))


def _manner(row: dict[str, Any]) -> Manner:
    """How the camera was set."""
    iso, f_number = float(row["iso"]), float(row["f_number"])
    return row["exposure_program"], int(np.clip(math.log2(iso / 100) // 1.5, 0, 4)), f_number < 7


def _dense(stops: float, extra: int) -> tuple[int, bool]:
    return int(np.searchsorted((0.5, 4.5, 7.5, 11.5), stops)), extra > 0


@dataclass
class Known:
    """Distributions of the world, counted."""

    first: Floats = field(default_factory=lambda: np.full(len(GRID), 0.2))
    moves: dict[tuple[bool, int], list[float]] = field(default_factory=lambda: defaultdict(list))
    kept: dict[tuple[bool, int, bool], list[float]] = field(
        default_factory=lambda: defaultdict(lambda: [1.0, 2.0])
    )
    rigs: dict[str, Counter[Any]] = field(default_factory=lambda: defaultdict(Counter))
    manners: dict[tuple[int, bool], Counter[Any]] = field(default_factory=lambda: defaultdict(Counter))
    errors: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    kernels: dict[tuple[bool, int], Floats] = field(default_factory=dict)


def learn(seeds: Iterable[int]) -> Known:
    """Counts over trips that no figure is taken from."""
    known = Known()
    for seed in seeds:
        world = trip(seed)
        for _, part in table_of(world).groupby("body"):
            _count(known, world.bag.kit, part.sort_values("start_s").to_dict("records"))
    for pace, moved in known.moves.items():
        known.kernels[pace] = _kernel(np.array(moved))
    return known


def _count(known: Known, kit: str, rows: list[dict[str, Any]]) -> None:
    before: dict[str, Any] | None = None
    for row in rows:
        over, stops = float(row["over"]), float(row["label_stops"])
        known.first[int(np.argmin(np.abs(GRID - over)))] += 1
        rig = (row["neutrals"], row["extra"])
        seen, how = observed(row)
        behind = float(row["light_ev100"]) - float(row["even_stops"]) - float(row["grad_stops"])
        known.errors[how].append(seen - behind)
        known.manners[_dense(stops, int(row["extra"]))][_manner(row)] += 1
        if before is None:
            known.rigs[kit][rig] += 1
        else:
            pace = _pace(before, row)
            known.moves[pace].append(over - float(before["over"]))
            kept = known.kept[(*pace, before["ids"] == ())]
            kept[0] += before["ids"] == row["ids"]
            kept[1] += 1
            known.rigs[kit][rig] += before["ids"] != row["ids"]
        before = row


def _kernel(moved: Floats) -> Floats:
    """Chance to go from one level of the grid to another, the counted moves smoothed a little."""
    off = GRID[None, :] - GRID[:, None]
    width = 0.12 + 0.3 / math.sqrt(len(moved) / 20 + 1)
    some = moved[:: max(len(moved) // 400, 1)]
    chance = np.exp(-0.5 * ((off[:, :, None] - some) / width) ** 2).mean(axis=2) + 1e-5
    kernel: Floats = chance / chance.sum(axis=1, keepdims=True)
    return kernel


@dataclass(frozen=True)
class _Rigs:
    """The rigs of one kit: label stops, true loss and its spread, how often each is put on."""

    label: Floats
    loss: Floats
    extra: NDArray[np.int64]
    often: Floats


def _rigs(known: Known, world: WorldTrip) -> _Rigs:
    ids = [g.id for g in world.bag.neutrals]
    extras = EXTRAS if world.bag.polariser else {0: 0.0}
    sets = [
        tuple(i for i, on in zip(ids, some, strict=True) if on) for some in product((0, 1), repeat=len(ids))
    ]
    found = list(product(sets, extras))
    strength = {g.id: g for g in world.bag.neutrals}
    count = known.rigs[world.bag.kit]
    often = np.array([_times(count, rig) + 0.3 for rig in found])
    return _Rigs(
        label=np.array([sum(strength[i].label_stops for i in some) for some, _ in found]),
        loss=np.array([sum(strength[i].true_stops for i in some) + EXTRAS[extra] for some, extra in found]),
        extra=np.array([extra for _, extra in found]),
        often=often / often.sum(),
    )


def _times(count: Counter[Any], rig: tuple[tuple[str, ...], int]) -> float:
    return float(sum(n for (some, extra), n in count.items() if set(some) == set(rig[0]) and extra == rig[1]))


def _likely(known: Known, rigs: _Rigs, row: dict[str, Any]) -> Floats:
    """Likelihood of one frame for each rig and light."""
    seen, how = observed(row)
    errors = np.array(known.errors[how])
    err = max(0.12, float(np.subtract(*np.percentile(errors, [84, 16]))) / 2)
    middle = float(np.median(errors))
    each = np.where(rigs.extra > 0, math.hypot(err, EXTRA_ERR_STOPS), err)
    spread = each.reshape(-1, 1)
    off = seen - middle - (float(row["clear"]) + GRID[None, :] - rigs.loss[:, None])
    fit: Floats = (
        0.94 * np.exp(-0.5 * (off / spread) ** 2) / spread + 0.06 * np.exp(-0.5 * (off / 2) ** 2) / 2
    )
    for place, (label, extra) in enumerate(zip(rigs.label, rigs.extra, strict=True)):
        counted = known.manners[_dense(float(label), int(extra))]
        fit[place] *= (counted[_manner(row)] + 0.5) / (counted.total() + 10)
    return fit


def best_stops(known: Known, world: WorldTrip) -> pd.Series:
    """Most probable stops of the neutrals (by the label) of each frame, by name."""
    rigs, found = _rigs(known, world), {}
    for _, part in table_of(world).groupby("body"):
        rows = part.sort_values("start_s").to_dict("records")
        chances = _smoothed(known, rigs, rows)
        near = np.abs(rigs.label[:, None] - rigs.label[None, :]) <= 0.5
        for row, chance in zip(rows, chances, strict=True):
            found[str(row["frame"])] = float(rigs.label[int(np.argmax(near @ chance))])
    return pd.Series(found)


def _smoothed(known: Known, rigs: _Rigs, rows: list[dict[str, Any]]) -> Floats:
    """Chance of each rig at each frame, by what came before and after."""
    likely = [_likely(known, rigs, row) for row in rows]
    forward, steps = [rigs.often[:, None] * known.first[None, :] * likely[0]], []
    for before, row, fit in zip(rows[:-1], rows[1:], likely[1:], strict=True):
        pace = _pace(before, row)
        stay = [known.kept[(*pace, bare)] for bare in (False, True)]
        keep = np.where(rigs.loss == 0, stay[1][0] / stay[1][1], stay[0][0] / stay[0][1])
        change = np.diag(keep) + (1 - keep)[:, None] * rigs.often[None, :]
        kernel = known.kernels.get(pace, np.full((len(GRID), len(GRID)), 1 / len(GRID)))
        steps.append((change, kernel))
        now = (change.T @ (forward[-1] / forward[-1].sum())) @ kernel * fit
        forward.append(now)
    back = np.ones_like(likely[0])
    chances = [forward[-1].sum(axis=1)]
    for (change, kernel), fit, alpha in zip(steps[::-1], likely[:0:-1], forward[-2::-1], strict=True):
        back = change @ (back * fit) @ kernel.T
        back /= back.sum()
        chances.append((alpha * back).sum(axis=1))
    found: Floats = np.array([c / c.sum() for c in chances[::-1]])
    return found
