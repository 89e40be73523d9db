"""What each step of an audit costs at several numbers of frames, once files are read; pixels are off.

    python -m benchmarks.steps [--million] [--no-report] [--json FILE] [--profile FRAMES]

Each size runs in a process of its own. Prints ms a frame for every step, the exponents between sizes (1 is
linear), the most memory that was held while a step ran, how much each further 1,000 frames take, and the
ratio to a plain exifread loop in this run. The scan is that of made rows, without the reading of files.
"""

from __future__ import annotations

import argparse
import cProfile
import json
import os
import pstats
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from itertools import pairwise
from math import log
from multiprocessing import get_context
from pathlib import Path
from typing import Any, TypeVar

import exifread
import numpy as np
import pandas as pd

from audit.check import run_checks
from audit.corners.leaning import add_leanings
from audit.corners.verdict import add_corners
from audit.declare import add_gear, join, lens_optics, load
from audit.demo.camera import jpeg, thumbnail
from audit.demo.exif_block import with_exif
from audit.demo.header import jpeg_header
from audit.demo.plan import TRIP
from audit.demo.schedule import frames as demo_frames
from audit.disk.building import Building
from audit.exposure.arithmetic import add_arithmetic
from audit.exposure.estimate import add_estimate, add_independent
from audit.exposure.light import add_light
from audit.exposure.scenes import add_scenes
from audit.exposure.setups import add_setups
from audit.exposure.sun import add_sky
from audit.pixels.overview import name_markers
from audit.pixels.unseen import not_looked_at
from audit.prints.airy import add_airy
from audit.prints.choose import choose
from audit.prints.kept import add_kept
from audit.report.data import csv_parts, findings_text, parquet_bytes
from audit.report.orders import orders_text
from audit.report.site import write_pages
from audit.result import Result
from audit.scan import Scan
from audit.table.columns import ALL
from audit.xmp.told import add_told
from benchmarks.made_table import made_trip
from benchmarks.performance.rounds import forget_peak, peak_mb

SIZES, MILLION = (1_000, 10_000, 100_000), 1_000_000
EXIF_FILES = 500

T = TypeVar("T")
Took = dict[str, float]


class Clock:
    """Processor seconds of each step, so that what else the machine does hardly counts; and its memory."""

    def __init__(self) -> None:
        self.took: Took = {}
        self.peaks_mb: Took = {}

    def __call__(self, name: str, step: Callable[[], T]) -> T:
        """What the step gives."""
        forget_peak()
        start = time.process_time()
        found = step()
        self.took[name] = time.process_time() - start
        self.peaks_mb[name] = peak_mb()
        return found


def steps(clock: Clock, scanned: Scan, folder: Path) -> Result:
    """Every step of `audit.jobs.audit` after the scan, and what it gives."""
    loaded = clock("load", lambda: load(folder, strict=False))
    kit = loaded.kit
    geared = clock("gear", lambda: add_gear(scanned.frames, kit))
    joined = clock("join", lambda: join(geared, kit, loaded.declarations))
    frames = clock("scenes", lambda: add_scenes(joined.frames, kit))
    frames = clock("setups", lambda: add_setups(frames))
    frames = clock("sky", lambda: add_sky(frames, kit))
    frames = clock("light", lambda: add_light(frames, kit))
    frames = clock("arithmetic", lambda: add_arithmetic(frames, kit))
    frames = clock("airy", lambda: add_airy(frames))
    optics = clock("lens data", lambda: lens_optics(frames))
    frames, corners = clock("corners", lambda: add_corners(frames, joined.rigs, kit, optics))
    shown = clock("pixels off", lambda: not_looked_at(frames, joined.rigs, kit))
    frames = clock("leanings", lambda: add_leanings(name_markers(shown.frames)))
    bright = frames["picture_stops"].to_numpy(dtype=float)
    frames = clock("estimate", lambda: add_estimate(frames, kit, rendered_stops=bright))
    frames = clock("independent", lambda: add_independent(frames, kit))
    chosen = clock("choose", lambda: choose(scanned.frames, ()))
    frames = clock("kept", lambda: add_told(add_kept(frames, chosen), ()))
    frames = clock("one piece", lambda: frames[[column.name for column in ALL]].copy())
    findings, checks = clock("checks", lambda: run_checks(frames))
    return Result(
        title="made",
        frames=frames,
        passed_over=scanned.passed_over,
        files_seen=scanned.files_seen,
        rigs=joined.rigs,
        corners=corners,
        findings=tuple(findings),
        checks=tuple(checks),
        mistakes=tuple(sorted({*loaded.warnings, *joined.mistakes, *chosen.mistakes})),
        kit=kit,
    )


def written(clock: Clock, result: Result, folder: Path, *, pages: bool) -> None:
    """The data files of the report and, if asked for, its pages, which take the most by far."""
    clock("parquet", lambda: parquet_bytes(result.frames))
    clock("csv", lambda: sum(map(len, csv_parts(result.frames))))
    clock("findings", lambda: findings_text(result))
    clock("orders", lambda: orders_text(result))
    if pages:
        run = Building(folder)
        clock("report", lambda: write_pages(result, run, wish="none"))
        run.close()


def measured(frames: int, *, outputs: bool = True, pages: bool = True) -> dict[str, Any]:
    """Seconds of every step, and megabytes: the process before, at its peaks, and the table when done.

    `outputs` are the files of the report, `pages` its pages among them.
    """
    made, clock = made_trip(frames), Clock()
    with tempfile.TemporaryDirectory() as place:
        made.write(Path(place))
        before = peak_mb()
        scanned = clock("scan", partial(made.scanned, Path(place)))
        del made
        result = steps(clock, scanned, Path(place))
        if outputs:
            written(clock, result, Path(place), pages=pages)
    return {
        "frames": frames,
        "s": clock.took,
        "step_peaks_mb": clock.peaks_mb,
        "scan_mb": _size_mb(scanned.frames),
        "table_mb": _size_mb(result.frames),
        "before_mb": before,
        "peak_mb": max(clock.peaks_mb.values()),
    }


def _size_mb(table: pd.DataFrame) -> float:
    """What the table holds, an object that several cells share counted once."""
    seen: dict[int, int] = {}
    plain = float(table.memory_usage(deep=False).sum())
    for name in table.select_dtypes("object"):
        seen.update((id(cell), sys.getsizeof(cell)) for cell in table[name].tolist())
    return (plain + sum(seen.values())) / 1e6


def exifread_ms() -> float:
    """Milliseconds a file of a plain exifread loop over small JPEGs of the demo's cameras; median of 5."""
    pixels = np.random.default_rng(1).integers(0, 255, (64, 96, 3), dtype=np.uint8)
    picture, small = jpeg(pixels), thumbnail(pixels)
    made = demo_frames(TRIP)
    with tempfile.TemporaryDirectory() as place:
        for number in range(EXIF_FILES):
            block = jpeg_header(made[number % len(made)], 96, 64, small)
            (Path(place) / f"{number:04d}.jpg").write_bytes(with_exif(picture, block))
        return float(np.median([_loop_s(sorted(Path(place).iterdir())) for _ in range(5)])) * 1e3 / EXIF_FILES


def _loop_s(files: Iterable[Path]) -> float:
    start = time.process_time()
    for file in files:
        with file.open("rb") as handle:
            exifread.process_file(handle, details=False)
    return time.process_time() - start


def exponents(runs: list[dict[str, Any]]) -> dict[str, float]:
    """Exponent of the time of each step between the two largest numbers of frames; 1 is linear."""
    (small, large), ratio = runs[-2:], log(runs[-1]["frames"] / runs[-2]["frames"])
    return {name: log(large["s"][name] / small["s"][name]) / ratio for name in large["s"]}


def printed(runs: list[dict[str, Any]], reading_ms: float) -> None:
    """The table of a run."""
    pairs = list(pairwise(runs))
    grown = [exponents(list(pair)) for pair in pairs]
    head = [f"{run['frames']:>12,}" for run in runs], [f"to {large['frames']:>9,}" for _, large in pairs]
    print(f"{'ms a frame':14}" + "".join(head[0]) + "   exponents " + " ".join(head[1]) + "   peak MB")
    for name in sorted(runs[-1]["s"], key=lambda one: -runs[-1]["s"][one]):
        row = "".join(f"{run['s'][name] * 1e3 / run['frames']:12.4f}" for run in runs)
        power = " ".join(f"{one[name]:12.2f}" for one in grown)
        print(f"{name:14}{row}             {power}{runs[-1]['step_peaks_mb'][name]:10,.0f}")
    sums = [sum(run["s"].values()) * 1e3 / run["frames"] for run in runs]
    print(f"{'together':14}" + "".join(f"{one:12.4f}" for one in sums))
    print(f"{'x exifread':14}" + "".join(f"{one / reading_ms:12.2f}" for one in sums))
    print(f"{'peak MB':14}" + "".join(f"{run['peak_mb']:12,.0f}" for run in runs))
    for small, large in pairs:
        thousands = (large["frames"] - small["frames"]) / 1000
        more = [(large[key] - small[key]) / thousands for key in ("peak_mb", "table_mb", "scan_mb")]
        print(f"{large['frames']:,}: each further 1,000 frames take {more[0]:.1f} MB at the peak;", end=" ")
        print(f"the table is {more[1]:.1f} MB, {more[2]:.1f} of it the scan's")


def profiled(frames: int, lines: int = 45) -> None:
    """Where the time of a run goes, by own time."""
    with cProfile.Profile() as profile:
        measured(frames)
    pstats.Stats(profile).sort_stats("tottime").print_stats(lines)


def main() -> None:
    """Reads the command line, runs the sizes one after the other, prints, writes JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--million", action="store_true", help="1,000,000 frames besides")
    parser.add_argument("--no-report", action="store_true", help="leave out the report's pages")
    parser.add_argument(
        "--sizes", type=int, nargs="+", help="two or more numbers of frames in place of these"
    )
    parser.add_argument("--json", type=Path, help="write what was measured into this file")
    parser.add_argument(
        "--profile", type=int, metavar="FRAMES", help="only profile one run of so many frames"
    )
    wanted = parser.parse_args()
    if wanted.profile:
        profiled(wanted.profile)
        return
    sizes = wanted.sizes or (*SIZES, *((MILLION,) if wanted.million else ()))
    reading_ms = exifread_ms()
    runs = []
    for size in sizes:
        with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as alone:
            runs.append(alone.submit(measured, size, pages=not wanted.no_report).result())
    printed(runs, reading_ms)
    if wanted.json:
        found = {
            "exifread_ms": reading_ms,
            "cores": os.cpu_count(),
            "runs": runs,
            "exponents": [exponents(list(pair)) for pair in pairwise(runs)],
        }
        wanted.json.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
