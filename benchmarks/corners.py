"""Time of a corner map of 61 x 41 points behind four openings, and its ratio to following rays.

    python benchmarks/corners.py                     maps, then one query
    python benchmarks/corners.py --against FOLDER    the query alone, beside that of another checkout

Two maps: one in which about a tenth of the bundles is cut, one in which two thirds are. One query is the
command as it is typed, in a process of its own, in processor time (user and system); beside it stands what
importing click, numpy and pydantic takes, so that figures of different machines can be compared. All are run
in turn, so that what else the machine does falls on each alike.
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from audit.demo.rays import Box, Bundle, Round, unobstructed
from audit.optics.corners import Circle, Rectangle, default_pupil, transmission

X_MM, Y_MM = np.meshgrid(np.linspace(-18, 18, 61), np.linspace(12, -12, 41))
RAYS = 1024
CASES = {
    "a tenth cut": (18.0, 8.0, 1.0),
    "two thirds cut": (30.0, 1.2, 0.62),
}


def openings(scale: float) -> list[Circle | Rectangle]:
    """Ring, holder, rails turned by 20 degrees and front ring, all widths scaled."""
    return [
        Circle(37 * scale, 4),
        Circle(43 * scale, 11),
        Rectangle(90 * scale, 1000, 17.4, 20),
        Circle(49 * scale, 25),
    ]


def median_ms(call: Callable[[], object], times: int) -> float:
    """Median time of a call."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        took.append(time.perf_counter() - start)
    return 1e3 * statistics.median(took)


def _as_traced(opening: Circle | Rectangle) -> Round | Box:
    if isinstance(opening, Circle):
        return Round(opening.radius_mm, opening.distance_mm)
    return Box(opening.width_mm, opening.height_mm, opening.distance_mm, opening.turned_deg)


QUERY = ("--lens", "w16", "--ring", "r77", "--holder", "main", "--focal", "16", "--focal", "20")
KIT = """
[[body]]
name = "A"
model = "Brattholm Tarn"
sensor_mm = [35.9, 24.0]
[[lens]]
id = "w16"
thread_mm = 77
focal_mm = [16, 35]
pupil_depth_mm = 25.0
pupil_depth_err_mm = 1.5
[[ring]]
id = "r77"
thread_mm = 77
bore_mm = 74
height_mm = 4
[[holder]]
id = "main"
slots = 2
"""
BASE = "click, numpy, pydantic"


def processor_s(arguments: list[str], checkout: Path) -> float:
    """User and system time of a Python process that finds the program in `checkout`."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    environment = {**os.environ, "PYTHONPATH": str(checkout)}
    done = subprocess.run(
        [sys.executable, *arguments], env=environment, cwd=checkout, stdout=subprocess.DEVNULL
    )
    if done.returncode not in (0, 1):
        raise SystemExit(f"{' '.join(arguments)} failed with {done.returncode}")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def one_query(against: Path | None, times: int = 9) -> None:
    """Prints the median time of a query here, and in another checkout, and their ratios to bare imports."""
    here = Path(__file__).resolve().parents[1]
    with tempfile.TemporaryDirectory() as folder:
        kit = Path(folder) / "kit.toml"
        kit.write_text(KIT, encoding="utf-8")
        query = ["-m", "audit", "corners", "--kit", str(kit), *QUERY]
        runs = {f"import {BASE}": (["-c", f"import {BASE}"], here), "one query": (query, here)}
        if against is not None:
            runs[f"one query in {against}"] = (query, against.resolve())
        took: dict[str, list[float]] = {name: [] for name in runs}
        for number in range(times + 1):  # the first writes what Python keeps compiled
            for name, (arguments, checkout) in runs.items():
                seconds = processor_s(arguments, checkout)
                if number:
                    took[name].append(seconds)
    base = statistics.median(took[f"import {BASE}"])
    for name, all_of_it in took.items():
        middle = statistics.median(all_of_it)
        print(f"{name}: {middle:.2f} s of processor ({min(all_of_it):.2f} to {max(all_of_it):.2f}), ", end="")
        print(f"{middle / base:.1f} x the imports")


def main() -> None:
    """Prints the maps' times and that of a query."""
    parser = argparse.ArgumentParser(description="Time of corner maps and of one query.")
    parser.add_argument("--against", type=Path, metavar="FOLDER", help="another checkout, for the query")
    against = parser.parse_args().against
    if against is None:
        maps()
    one_query(against)


def maps() -> None:
    """Prints share cut, median time and ratio for each case."""
    for name, (focal_mm, f_number, scale) in CASES.items():
        rig, pupil = openings(scale), default_pupil(focal_mm, f_number, 25.0)
        tan_x, tan_y = X_MM / focal_mm, Y_MM / focal_mm
        passed = transmission(tan_x, tan_y, pupil, rig)
        same = [_as_traced(o) for o in rig]
        bundle = Bundle(**vars(pupil))
        model = median_ms(lambda: transmission(tan_x, tan_y, pupil, rig), 301)  # noqa: B023
        rays = median_ms(lambda: unobstructed(tan_x, tan_y, bundle, same, rays=RAYS), 5)  # noqa: B023
        cut = ((passed > 0) & (passed < 1)).mean()
        print(f"{name}: {100 * cut:.0f} % cut, {model:.2f} ms, {rays / model:.0f} x quicker than {RAYS} rays")


if __name__ == "__main__":
    main()
