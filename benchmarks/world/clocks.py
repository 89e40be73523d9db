"""Trips with two bodies whose clocks differ: python -m benchmarks.world.clocks [--half tune|unseen].

Days of the world's own kind "two bodies" are put one after another to a trip of one to three days; the second
body's clock is then shifted. How the bodies are used beside each other is drawn: at every setup, at some with
a delay, in turn (never two at a time), or on days of their own, where nothing can be told. The shares are
guesses (common practice, no source). Nothing here knows how a difference is estimated.
"""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import pandas as pd

from audit.declare import add_gear
from audit.exposure.clocks import Told, apart
from audit.exposure.scenes import add_scenes
from audit.exposure.setups import add_setups
from audit.kit.kit import Body, Kit
from audit.scan.frames import frame_table
from audit.table.columns import ALL
from benchmarks.world import day as days
from benchmarks.world.shooting import Shooter

HALVES = {"tune": 10_000, "unseen": 20_000}
USES = ("beside", "some", "turns", "apart")
KIT = Kit(body=(Body(name="A", model="Aurin A"), Body(name="B", model="Aurin B")))
Row = dict[str, Any]


@dataclass(frozen=True)
class ClockTrip:
    """Rows as a scan gives them, and the truth: how far B is ahead of A, of what size, how they were used."""

    rows: list[Row]
    ahead_s: float
    size: str
    use: str
    receivers: int
    zone_written: bool


def clock_trip(seed: int) -> ClockTrip:
    """Every fourth trip has no shift but the few seconds that clocks drift."""
    rng = np.random.default_rng([seed, 31])
    size, shift_s = _shift(rng, seed)
    use = str(rng.choice(USES, p=[0.4, 0.25, 0.25, 0.1]))
    receives = [bool(rng.random() < 0.3) for _ in "AB"]
    tells_zone = [bool(rng.random() < 0.45) for _ in "AB"]
    zone_moves = bool(size == "hours" and rng.random() < 0.5)
    drift_s = float(rng.normal(0, 6))
    rows: list[Row] = []
    count = int(rng.integers(1, 4)) if use != "apart" else 2
    for number in range(count):
        shot = days.shoot(seed * 10 + number, "two bodies")
        assert shot.other is not None
        midnight = datetime.combine(date(2026, 5, 2), datetime.min.time()) + timedelta(days=number)
        moved = _in_turn(rng, shot.main, shot.other) if use == "turns" else {}
        for letter, shooter in zip("AB", (shot.main, shot.other), strict=True):
            if use == "apart" and number != "AB".index(letter):
                continue
            kept = _kept(rng, shooter.rows, shooter.truth, use if letter == "B" else "beside")
            for row, start_s in kept:
                start_s += moved.get((letter, start_s), 0.0)
                local = midnight + timedelta(seconds=start_s + shot.bag.offset_min * 60)
                ahead = shift_s + drift_s if letter == "B" else 0.0
                at = local + timedelta(seconds=ahead)
                zone = 120 + (round(shift_s / 60) if zone_moves and letter == "B" else 0)
                told = {
                    "captured_at": at.replace(microsecond=0),
                    "utc_offset_min": zone if tells_zone["AB".index(letter)] else None,
                    "model": f"Aurin {letter}",
                    "gps_at": None,
                    "frame": f"{number}/{row['frame']}",
                    "folder": f"{number}/{letter}",
                }
                if receives["AB".index(letter)]:
                    age = timedelta(seconds=float(rng.exponential(2)))
                    told["gps_at"] = (local - timedelta(hours=2) - age).replace(microsecond=0)
                rows.append({**row, **told, "latitude_deg": None, "longitude_deg": None})
    return ClockTrip(rows, shift_s + drift_s, size, use, sum(receives), all(tells_zone))


def _shift(rng: np.random.Generator, seed: int) -> tuple[str, float]:
    sign = 1.0 if rng.random() < 0.5 else -1.0
    kind = ("none", "hours", "minutes", "seconds")[seed % 4]
    if kind == "hours":
        return kind, sign * 3600 * float(rng.choice([1, 1, 1, 2, 3, 6, 8]))
    low, high = {"none": (1, 1), "minutes": (300, 18_000), "seconds": (30, 300)}[kind]
    size = math.exp(float(rng.uniform(math.log(low), math.log(high))))
    return kind, 0.0 if kind == "none" else sign * size


def _kept(rng: np.random.Generator, rows: list[Row], truth: list[Row], use: str) -> list[tuple[Row, float]]:
    """The frames with the second of the day they were taken at."""
    found, delays, kept = [], {}, {}
    for row, fact in zip(rows, truth, strict=True):
        setup = fact["setup"]
        if setup not in kept:
            kept[setup] = use != "some" or bool(rng.random() < 0.5)
            delays[setup] = float(rng.uniform(0, 180)) if use == "some" else 0.0
        if kept[setup]:
            found.append((row, float(fact["start_s"]) + delays[setup]))
    return found


def _in_turn(rng: np.random.Generator, main: Shooter, other: Shooter) -> dict[tuple[str, float], float]:
    """By how much each frame is put off when one photographer takes the bodies up one after the other."""
    setups: dict[tuple[str, int], list[tuple[float, float]]] = {}
    for letter, shooter in zip("AB", (main, other), strict=True):
        for fact in shooter.truth:
            frame = float(fact["start_s"]), float(fact["seconds"])
            setups.setdefault((letter, fact["setup"]), []).append(frame)
    found, free_s = {}, -math.inf
    for (letter, _), frames in sorted(setups.items(), key=lambda one: min(one[1])):
        first = min(frames)[0]
        late = max(0.0, free_s + float(rng.uniform(20, 90)) - first)
        found.update({(letter, start): late for start, _ in frames})
        free_s = late + max(start + length for start, length in frames)
    return found


def table_of(trip: ClockTrip, kit: Kit = KIT) -> pd.DataFrame:
    """The table as the check finds it, as far as it looks at it."""
    rest = {c.name: c.kind.series([None] * len(trip.rows)) for c in ALL if c.step != "scan"}
    frames = add_gear(pd.concat([frame_table(trip.rows), pd.DataFrame(rest)], axis=1), kit)
    return add_setups(add_scenes(frames.copy(), kit))


def outcome(trip: ClockTrip, found: Told) -> str:
    """What the two checks say of it: a proposal, right within its error or wrong; agreement; or nothing."""
    proposed, err_s = found.proposed_s, found.err_s
    if found.zone_s is not None:
        contradicted = found.sure and abs(found.ahead_s - found.zone_s) > err_s
        proposed, err_s = (None if contradicted else found.zone_s), 30.0
    if proposed is not None:
        return "right" if abs(proposed - trip.ahead_s) <= err_s else "WRONG"
    return "agree" if found.sure else "cannot be told"


def main() -> None:
    """Prints what was proposed for each trip, and the sums."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.world.clocks", description=__doc__)
    parser.add_argument("--half", choices=list(HALVES), default="tune")
    parser.add_argument("--trips", type=int, default=40)
    asked = parser.parse_args()
    sums: dict[tuple[str, str], int] = {}
    for seed in range(HALVES[asked.half], HALVES[asked.half] + asked.trips):
        trip = clock_trip(seed)
        for found in apart(table_of(trip)):
            what = outcome(trip, found)
            sums[trip.size, what] = sums.get((trip.size, what), 0) + 1
            told = f"{found.ahead_s:.0f} +- {found.err_s:.0f} by {found.by}"
            drawn = f"{trip.size} {trip.use}, receivers {trip.receivers}, {trip.ahead_s:.0f}"
            print(f"{seed} {drawn}: {what}, {told}")
    for (size, what), count in sorted(sums.items()):
        print(f"{size:8s} {what:14s} {count}")


if __name__ == "__main__":
    main()
