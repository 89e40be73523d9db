"""The figures of the issue's table, counted over the trips of one half."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from benchmarks.world.ceiling import Known, best_stops
from benchmarks.world.run import Audited, frames_of
from benchmarks.world.trip import WorldTrip, trip

HALVES = {"tune": 10_000, "unseen": 50_000}
"""First seed of each half. Whoever changes the estimate looks at the second one once."""
ROTA = (
    *(
        "ordinary",
        "dawn",
        "no filters",
        "ordinary",
        "two bodies",
        "left on",
        "ordinary",
        "stars",
        "dawn",
        "snow",
    ),
    *("ordinary", "left on", "flash", "ordinary", "two bodies", "brackets", "dawn", "ten only", "no filters"),
    "auto iso",
)
"""Kinds of twenty trips, so that the rare ones come up in each half: about as often as "any" draws them."""
NEAR_STOPS = 0.5
SPECIALS = ("no filters", "flash", "stars", "left on", "ten only", "auto iso")
BRACKETS = ("bracket by camera", "bracket by hand")
SURE = ("sure", "likely", "unsure")


@dataclass
class Tally:
    """Hits and cases by the name of a row."""

    hits: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    cases: dict[str, float] = field(default_factory=lambda: defaultdict(float))

    def add(self, name: str, hits: float, cases: float) -> None:
        """Counts; a row without a case stays out."""
        if cases:
            self.hits[name] += float(hits)
            self.cases[name] += float(cases)

    def share(self, name: str) -> float:
        """Hits per case, NaN without one."""
        return self.hits[name] / self.cases[name] if self.cases.get(name) else float("nan")


def nth(seed: int, declared: str = "nothing") -> WorldTrip:
    """The trip of a seed of a half, its kind by the rota."""
    return trip(seed, ROTA[seed % len(ROTA)], declared)


def measure(half: str, trips: int, known: Known) -> Tally:
    """All figures of one half."""
    tally = Tally()
    for seed in range(HALVES[half], HALVES[half] + trips):
        plain = nth(seed)
        bare = frames_of(plain)
        table = _joined(plain, bare)
        table["ceiling"] = table["frame"].map(best_stops(known, plain))
        _right(tally, table)
        _told(tally, "nothing declared", table)
        _invented(tally, table)
        _sets(tally, table)
        _one_bare(tally, seed, table)
        _declared(tally, seed)
        tally.add("frames a trip", len(table), 1)
        tally.add("frames behind a neutral", (table["label_stops"] > 0).sum(), len(table))
    for special in SPECIALS:
        for seed in range(HALVES[half] + 1000, HALVES[half] + 1000 + max(trips // 4, 1)):
            _special(tally, special, seed, known)
    return tally


def _special(tally: Tally, special: str, seed: int, known: Known) -> None:
    """Rare kinds on trips of their own, which enter no other row."""
    world = trip(seed, special)
    table = _joined(world, frames_of(world))
    table["ceiling"] = table["frame"].map(best_stops(known, world))
    table = table[table["special"] == special]
    told = table["estimated_sure"].isin(["sure", "likely"])
    best = (table["ceiling"] - table["label_stops"]).abs() <= NEAR_STOPS
    tally.add(f"right, special {special}", table["right"].sum(), len(table))
    tally.add(f"ceiling, special {special}", best.sum(), len(table))
    tally.add(f"likely or sure and wrong, special {special}", (told & ~table["right"]).sum(), len(table))
    if special not in ("left on", "ten only"):
        bare = table[table["ids"].map(len) == 0]
        for name, column in ((special, "estimated_stops"), (f"{special}, ceiling", "ceiling")):
            tally.add(f"invented, {name}", (bare[column] > NEAR_STOPS).sum(), len(bare))


def _joined(world: WorldTrip, audit: Audited) -> pd.DataFrame:
    """Truth and what the audit says, by frame."""
    said = audit.frames[
        [
            *("frame", "estimated_stops", "estimated_sure", "estimated_probability", "declaration"),
            *("bracket", "sequence", "sequence_of"),
        ]
    ]
    table = world.truth.merge(said, on="frame", validate="one_to_one")
    table["right"] = (table["estimated_stops"] - table["label_stops"]).abs() <= NEAR_STOPS
    return table


def _right(tally: Tally, table: pd.DataFrame) -> None:
    """Total stops right with nothing declared, beside the ceiling."""
    best = (table["ceiling"] - table["label_stops"]).abs() <= NEAR_STOPS
    kit = table["kit"].iloc[0]
    mixed = np.array([any(i[0] in "gp" for i in ids) for ids in table["ids"]])
    parts = {
        "all": np.ones(len(table), dtype=bool),
        f"kit {kit}": np.ones(len(table), dtype=bool),
        "behind a neutral": (table["label_stops"] > 0).to_numpy(),
        "grad or polariser on": mixed,
    }
    if (snow := (table["special"] == "snow").to_numpy()).any():
        parts["special snow"] = snow
    for body in table["body"].unique():
        parts[f"body {body}"] = (table["body"] == body).to_numpy()
    for name, part in parts.items():
        tally.add(f"right, {name}", table["right"][part].sum(), part.sum())
        tally.add(f"ceiling, {name}", best[part].sum(), part.sum())


def _told(tally: Tally, what: str, table: pd.DataFrame) -> None:
    """How sure it is called, how sure it is stated, and how often that is right."""
    for sure in SURE:
        part = table[table["estimated_sure"] == sure]
        tally.add(f"{what}: called {sure}", len(part), len(table))
        tally.add(f"{what}: right of {sure}", part["right"].sum(), len(part))
        tally.add(f"{what}: stated of {sure}", part["estimated_probability"].sum(), len(part))
    wrong = (table["estimated_sure"] == "sure") & ~table["right"]
    tally.add(f"{what}: sure and wrong", wrong.sum(), len(table))


def _invented(tally: Tally, table: pd.DataFrame) -> None:
    """Bare frames that are given a neutral."""
    bare = table[table["ids"].map(len) == 0]
    given = bare["estimated_stops"] > NEAR_STOPS
    told = given & bare["estimated_sure"].isin(["sure", "likely"])
    tally.add("invented, all", given.sum(), len(bare))
    tally.add("invented at likely or sure", told.sum(), len(bare))
    tally.add("invented, ceiling", (bare["ceiling"] > NEAR_STOPS).sum(), len(bare))


def _sets(tally: Tally, table: pd.DataFrame) -> None:
    """True sets found whole, and sets found where there is none."""
    for (kind, _), part in table[table["set_id"] >= 0].groupby(["set_kind", "set_id"]):
        if kind in BRACKETS:
            names = part["bracket"]
            whole = names.notna().all() and names.nunique() == 1
            whole = whole and (table["bracket"] == names.iloc[0]).sum() == len(part)
            tally.add(f"sets whole, {kind}", whole, 1)
        elif kind == "panorama":
            tally.add("sets whole, panorama", (part["sequence"] == "panorama").all(), 1)
    outside = ~table["set_kind"].isin(BRACKETS)
    wrong = table[outside & table["bracket"].notna()].groupby("bracket")
    tally.add("false sets per frame outside of sets", sum(1 for _ in wrong), outside.sum())
    tally.add(
        "frames outside of sets called a set", (outside & table["bracket"].notna()).sum(), outside.sum()
    )
    changes = [part for _, part in wrong if part["label_stops"].nunique() > 1]
    runs = (table["label_stops"].diff().fillna(0) != 0).sum()
    tally.add("filter changes swallowed by a set", len(changes), runs)


def _one_bare(tally: Tally, seed: int, plain: pd.DataFrame) -> None:
    """What one bare frame a setup adds, on the other frames of those setups."""
    table = _joined(world := nth(seed, "one bare a setup"), frames_of(world))
    told = table["declaration"] == "bare"
    with_one = told.groupby([table["body"], table["setup"]]).transform("any") & ~told
    tally.add("one bare a setup: right", table["right"][with_one].sum(), with_one.sum())
    tally.add("one bare a setup: the same without", plain["right"][with_one.to_numpy()].sum(), with_one.sum())
    all_told = table[~told]
    tally.add("one bare a setup: right, all frames not declared", all_told["right"].sum(), len(all_told))
    _told(tally, "one bare a setup", all_told)


def _loud(audit: Audited, levels: tuple[str, ...]) -> Iterator[tuple[str, str, str]]:
    """Check, level, frame."""
    for finding in audit.findings:
        if finding.level in levels:
            for frame in finding.frames:
                yield finding.check, finding.level, frame


def _declared(tally: Tally, seed: int) -> None:
    """False alarms on true declarations; planted slips found by what is new."""
    true = frames_of(nth(seed, "all"))
    count = len(true.frames)
    for level in ("act", "look"):
        found = [f for f in true.findings if f.level == level]
        tally.add(f"{level} findings", len(found), count)
        tally.add(f"frames in {level} findings", len({x for f in found for x in f.frames}), count)
        for check in {f.check for f in found}:
            tally.add(f"{level} findings, {check}", sum(f.check == check for f in found), 1)
    tally.add("mistakes in true declarations", len(true.mistakes), 1)
    planted = nth(seed, "all with slips")
    if not planted.slips:
        return
    slipped = frames_of(planted)
    before = {level: {(c, x) for c, _, x in _loud(true, level)} for level in (("act", "look"), ("act",))}
    for levels, old in before.items():
        new = {frame for check, _, frame in _loud(slipped, levels) if (check, frame) not in old}
        found_slips = sum(bool(new & set(slip.frames)) for slip in planted.slips)
        tally.add(f"slips found{' at act' if levels == ('act',) else ''}", found_slips, len(planted.slips))
