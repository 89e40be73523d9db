"""A whole trip: what the files say, what the photographer declares, and what is true."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, groupby
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from benchmarks.world import day as days
from benchmarks.world.kits import Bag, kit_toml, rig_lines
from benchmarks.world.light import Sky

KINDS = ("any", *days.KINDS)
DECLARED = ("nothing", "one bare a setup", "all", "all with slips")
SLIP_STOPS = 3.0
SLIP_SHARE = 0.12


@dataclass(frozen=True)
class Slip:
    """A wrong declaration: the frames it covers, what was said, and the neutrals' stops said and true."""

    frames: tuple[str, ...]
    said: tuple[str, ...]
    said_stops: float
    true_stops: float


@dataclass(frozen=True)
class WorldTrip:
    """Rows as a scan gives them, kit and declarations as text, and the truth, one row a frame."""

    seed: int
    kind: str
    declared: str
    scan_rows: list[dict[str, Any]]
    kit_toml: str
    declarations: dict[str, str]
    slips: tuple[Slip, ...]
    truth: pd.DataFrame
    picture_stops: NDArray[np.float64]
    bag: Bag
    sky: Sky


def trip(seed: int, kind: str = "any", declared: str = "nothing") -> WorldTrip:
    """The trip of a seed; what is declared changes nothing of what was shot."""
    if kind not in KINDS or declared not in DECLARED:
        raise ValueError(f"kind is one of {KINDS}, declared one of {DECLARED}")
    day = days.shoot(seed, kind)
    shooters = [s for s in (day.main, day.other) if s is not None]
    rows = [row for s in shooters for row in s.rows]
    truth = pd.DataFrame([fact for s in shooters for fact in s.truth])
    truth.insert(0, "frame", [row["frame"] for row in rows])
    truth["folder"] = [row["folder"] for row in rows]
    truth["kit"] = day.bag.kit
    said, slips = _said(np.random.default_rng([seed, 577]), day.bag, truth, declared)
    return WorldTrip(
        seed=seed,
        kind=day.kind,
        declared=declared,
        scan_rows=rows,
        kit_toml=kit_toml(day.bag),
        declarations=_declarations(day.bag, truth, said),
        slips=slips,
        truth=truth,
        picture_stops=np.array([p for s in shooters for p in s.pictures]),
        bag=day.bag,
        sky=day.main.sky,
    )


Said = list[tuple[str, ...] | None]
"""What is declared of each frame; None: nothing."""


def _said(
    rng: np.random.Generator, bag: Bag, truth: pd.DataFrame, declared: str
) -> tuple[Said, tuple[Slip, ...]]:
    if declared == "nothing":
        return [None] * len(truth), ()
    if declared == "one bare a setup":
        bare = truth[truth["ids"].map(len) == 0]
        chosen = set(bare.groupby(["body", "setup"], sort=False)["frame"].first())
        return [() if name in chosen else None for name in truth["frame"]], ()
    said: Said = list(truth["ids"])
    if declared == "all":
        return said, ()
    return _slipped(rng, bag, truth, said)


def _slipped(
    rng: np.random.Generator, bag: Bag, truth: pd.DataFrame, said: Said
) -> tuple[Said, tuple[Slip, ...]]:
    """Some runs of one rig at one setup are declared wrongly, by 3 stops of neutrals or more."""
    slips = []
    keys = list(zip(truth["body"], truth["setup"], truth["ids"], strict=True))
    names = truth["frame"].tolist()
    for _, group in groupby(range(len(keys)), key=lambda i: keys[i]):
        rows = list(group)
        worn = keys[rows[0]][2]
        wrong = _wrong(rng, bag, worn)
        if truth["special"].iloc[rows[0]] == "stars" or rng.random() > SLIP_SHARE or wrong is None:
            continue
        for row in rows:
            said[row] = wrong
        stops = _label_stops(bag, wrong), _label_stops(bag, worn)
        slips.append(Slip(tuple(names[row] for row in rows), wrong, *stops))
    return said, tuple(slips)


def _wrong(rng: np.random.Generator, bag: Bag, worn: tuple[str, ...]) -> tuple[str, ...] | None:
    """Forgotten, another neutral, or one that had been taken off: what else may stand in the notes."""
    rest = tuple(name for name in worn if name not in {g.id for g in bag.neutrals})
    sets = [tuple(g.id for g in some) for count in (0, 1) for some in combinations(bag.neutrals, count)]
    true = _label_stops(bag, worn)
    far = [(*some, *rest) for some in sets if abs(_label_stops(bag, some) - true) >= SLIP_STOPS - 0.05]
    if not far:
        return None
    forgotten = tuple(rest)
    if forgotten in far and rng.random() < 0.5:
        return forgotten
    return far[int(rng.integers(len(far)))]


def _label_stops(bag: Bag, ids: Sequence[str]) -> float:
    return sum(g.label_stops for g in bag.neutrals if g.id in ids)


def _declarations(bag: Bag, truth: pd.DataFrame, said: Said) -> dict[str, str]:
    """filters.toml of each folder: one span for each run of one rig."""
    texts: dict[str, str] = {}
    files = [name.rsplit("/", 1)[-1] for name in truth["frame"]]
    folders = truth["folder"].tolist()
    for (folder, worn), group in groupby(range(len(files)), key=lambda i: (folders[i], said[i])):
        rows = list(group)
        if worn is None:
            continue
        lines = ["[[worn]]", f'files = ["{files[rows[0]]}", "{files[rows[-1]]}"]', *rig_lines(bag, worn)]
        texts[folder] = texts.get(folder, "") + "\n".join(lines) + "\n\n"
    return texts
