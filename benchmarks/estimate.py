"""How well the estimate tells which filters were on, on random trips, and what it costs.

    python benchmarks/estimate.py [TRIPS] [rows]

Tables: usual trips; the same with drift twice as fast and metering error .7 stop, neither of which the
estimate knows; with the sky's expected light and with the pictures' brightness added; stated against observed
certainty. With `rows`, time and memory for 10^4, 10^5 and 10^6 rows, each in a process of its own.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd

TESTS = Path(__file__).parents[1] / "tests" / "exposure"
sys.path.insert(0, str(TESTS))

from scoring import certainty, figures, pooled  # noqa: E402
from shooting import Habits  # noqa: E402
from trips import trip  # noqa: E402

from audit.exposure.estimate import add_estimate  # noqa: E402
from audit.exposure.scenes import add_scenes  # noqa: E402

CASES = {
    "EXIF only": ({}, {}),
    "drift x 2": ({"faster": 2.0}, {}),
    "metering .7": ({"metering": 0.7}, {}),
    "both": ({"faster": 2.0, "metering": 0.7}, {}),
    "+ sky": ({}, {"sky": True}),
    "+ sky, pictures": ({}, {"sky": True, "pixels": True}),
}
FIRST_SEED = 10_000
SIZES = (10_000, 100_000, 1_000_000)


def shows(count: int) -> None:
    """Scores all cases and prints them side by side."""
    columns, stated = {}, {}
    for name, (habits, more) in CASES.items():
        trips = [trip(FIRST_SEED + n, habits=Habits(**habits)) for n in range(count)]
        table = pooled(trips, **more)
        columns[name], stated[name] = figures(table), certainty(table)
        if name == "EXIF only":
            least = by_kit(table, trips)
    print(pd.DataFrame(columns).round(4).to_string(), end="\n\n")
    print("EXIF only, frames of setups declared in part, by the least step between the kit's neutrals")
    print(least.round(4).to_string(), end="\n\n")
    for name, said in stated.items():
        print(f"stated against observed certainty: {name}\n{said.round(3).to_string()}\n")


def by_kit(table: pd.DataFrame, trips: list) -> pd.DataFrame:
    """Share right by how near the kit's neutrals lie to each other, over one and the same setup."""
    steps = []
    for one in trips:
        stops = sorted({round(f.loss_stops[0]) for f in one.kit.filters if f.kind == "neutral"})
        steps += [min(np.diff([0, *stops]), default=0)] * len(one.frames)
    rest = table.assign(step=steps)[~table["declared"] & table["setup_declared"]]
    group = rest.groupby("step")
    return pd.DataFrame({"frames": group.size(), "right": group["right"].mean()})


def rows(count: int) -> None:
    """Time and memory of the estimate alone for so many rows of a ten-filter kit."""
    base = [trip(seed, filters=10) for seed in range(40)]
    parts = [add_scenes(one.frames).assign(declaration="undeclared") for one in base]
    kit, made, pieces = base[0].kit, 0, []
    while made < count:
        turn = len(pieces)
        part = parts[turn % len(parts)]
        year = pd.Timedelta(days=400 * (turn // len(parts)))
        tag = f" {turn}"
        named = {"body": part["body"] + f" {turn % len(parts)}", "bracket": part["bracket"] + tag}
        pieces.append(part.assign(captured_at=part["captured_at"] + year, **named))
        made += len(part)
    frames = pd.concat(pieces, ignore_index=True)[:count].reset_index(drop=True)
    del pieces, parts
    before = peak_mb()
    start, busy = time.perf_counter(), time.process_time()
    add_estimate(frames, kit)
    took, busy = time.perf_counter() - start, time.process_time() - busy
    print(
        f"{count:9} rows {took:7.1f} s, processor {busy:6.1f} s, {busy / count * 1e6:6.1f} us a row, "
        f"peak {before:.0f} -> {peak_mb():.0f} MB"
    )


def peak_mb() -> float:
    """Peak memory of this process so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3


if __name__ == "__main__":
    if sys.argv[1:2] == ["--rows"]:
        rows(int(sys.argv[2]))
    elif "rows" in sys.argv[1:]:
        for size in SIZES:
            subprocess.run([sys.executable, __file__, "--rows", str(size)], check=True)
    else:
        shows(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
