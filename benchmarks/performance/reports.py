"""What each part of a written report costs a frame, beside an exifread loop and pandas' own writers.

    python -m benchmarks.performance.reports [--json FILE] [FRAMES ...]

The frames are those of a made dump, audited without pixels, repeated under new names on later days, with the
thumbnails left out: decoding them is another figure. Records, pages and data files are timed one by one.
"""

from __future__ import annotations

import argparse
import gc
import json
import math
import pickle
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any
from unittest import mock

import exifread
import pandas as pd

from audit import report
from audit.disk import runs
from audit.disk.building import Building
from audit.finding import Finding
from audit.jobs.audit import audit
from audit.report.data import csv_parts, findings_text, parquet_bytes
from audit.report.orders import orders_text
from audit.result import Result
from audit.table import columns
from benchmarks.performance.files import dump
from benchmarks.performance.rounds import Figure

BASE, FILES, ROUNDS = 750, 500, 2
LOOP, TO_CSV, TO_PARQUET = "exifread loop", "pandas to_csv", "pandas to_parquet"
NAMING = ("frame", "scene", "bracket", "reference_frame", "sequence_of", "setup", "pair_with", "stack")
PEAK = """
import pickle, sys
from pathlib import Path
from audit import report
from benchmarks.performance.rounds import peak_mb
result = pickle.loads(Path(sys.argv[1]).read_bytes())
before = peak_mb()
report.write(result, Path(sys.argv[2]), pictures="none")
print(peak_mb() - before)
"""
Work = tuple[Callable[[], object], int]
"""What is timed, and how many frames it is for."""


def longer(trip: Result, count: int) -> Result:
    """The trip repeated until it has `count` frames, with its findings."""
    legs = range(-(-count // len(trip.frames)))
    days = (trip.frames["captured_at"].max() - trip.frames["captured_at"].min()).days + 1
    made = []
    for n in legs:
        leg = trip.frames.assign(captured_at=trip.frames["captured_at"] + pd.Timedelta(days=days * n))
        for name in NAMING:
            leg[name] = [f"{n:04d}/{v}" if isinstance(v, str) else v for v in leg[name]]
        leg["folder"] = [f"{n:04d}/{v}" for v in leg["folder"]]
        leg["files"] = [[f"{n:04d}/{file}" for file in files] for files in leg["files"]]
        made.append(leg)
    frames = pd.concat(made, ignore_index=True).iloc[:count].assign(thumbnail_jpeg=None)
    there = set(frames["frame"])

    def renamed(finding: Finding, n: int) -> Finding:
        return replace(finding, frames=tuple(f"{n:04d}/{name}" for name in finding.frames))

    found = (renamed(finding, n) for n in legs for finding in trip.findings)
    return replace(
        trip,
        frames=frames,
        passed_over=trip.passed_over.iloc[:0],
        files_seen=sum(map(len, frames["files"])),
        findings=tuple(f for f in found if there.issuperset(f.frames)),
        dump=None,
    )


def data_works(result: Result, place: Path) -> dict[str, Work]:
    """The data files, and pandas' own writers of the same columns."""
    frames, count = result.frames, len(result.frames)
    plain = frames[[c.name for c in columns.written()]]
    return {
        TO_PARQUET: (lambda: plain.to_parquet(place / "plain.parquet", compression="zstd"), count),
        "frames.parquet": (lambda: parquet_bytes(frames), count),
        TO_CSV: (lambda: plain.to_csv(place / "plain.csv", index=False), count),
        "frames.csv": (lambda: sum(map(len, csv_parts(frames))), count),
        "findings.json": (lambda: findings_text(result), count),
        "orders.csv": (lambda: orders_text(result), count),
    }


def timed(
    part: str, works: Mapping[str, Work], against: Mapping[str, str], rounds: int = ROUNDS
) -> list[Figure]:
    """Each in turn, round after round; with ratios to the one that `against` names, "" for all others."""
    took: dict[str, list[float]] = {name: [] for name in works}
    for _ in range(rounds):
        for name, (work, count) in works.items():
            gc.collect()
            began_s = time.perf_counter()
            work()
            took[name].append((time.perf_counter() - began_s) * 1000 / count)
    made = []
    for name, times in took.items():
        to = against.get(name, against[""])
        made.append(Figure.of_rounds(part, name, "ms a frame", times, to, took[to]))
    return made


def stages(result: Result, out: Path) -> dict[str, float]:
    """A report written as a user has it: ms a frame of each of its stages, and of each kind of page."""
    begun: list[tuple[str, float]] = []
    took: dict[str, float] = {}

    class Timed(Building):
        """Adds the time of each page, which is made while it is written, to that of its kind."""

        def write(self, name: str, data: Any) -> None:
            began_s = time.perf_counter()
            super().write(name, data)
            stem = name.removesuffix(".html")
            kind = "days" if stem[:2] == "20" else stem.partition("-")[0] if stem != name else "other files"
            took[kind] = took.get(kind, 0.0) + time.perf_counter() - began_s

    def begin(stage: str) -> None:
        begun.append((stage, time.perf_counter()))

    with mock.patch.object(runs, "Building", Timed):
        report.write(result, out, pictures="none", begin=begin)
    begin("end")
    took |= {stage: until - at for (stage, at), (_, until) in pairwise(begun)}
    return {name: seconds * 1000 / len(result.frames) for name, seconds in took.items()}


def pages(files: list[Path], sizes: Mapping[int, Result], place: Path, rounds: int = ROUNDS) -> list[Figure]:
    """Whole reports of several sizes in turn with the loop, their growth, and their peaks of memory."""

    def loop() -> None:
        for file in files:
            with file.open("rb") as handle:
                exifread.process_file(handle, details=False)

    def written(result: Result) -> Callable[[], object]:
        return lambda: report.write(result, place / "out", pictures="none")

    works: dict[str, Work] = {LOOP: (loop, len(files))}
    works |= {f"report of {n:,} frames": (written(r), n) for n, r in sizes.items()}
    told = timed("report without pictures", works, {"": LOOP}, rounds)
    by_size = dict(zip(sizes, (figure.median for figure in told[1:]), strict=True))
    least, most = min(sizes), max(sizes)
    if least != most:
        growth = 1 + math.log(by_size[most] / by_size[least]) / math.log(most / least)
        told.append(_one("exponent of the whole report", "", growth, "at most 1.05"))
        peaks = {n: _peak(sizes[n], place) for n in (least, most)}
        grown = (peaks[most] - peaks[least]) / (most - least) * 1000
        told.append(_one("memory for each further 1,000 frames", "MB", grown, "at most 10"))
    for name, ms in stages(sizes[most], place / "out").items():
        told.append(_one(f"of {most:,} frames: {name}", "ms a frame", ms, ""))
    return told


def _one(what: str, unit: str, value: float, aim: str) -> Figure:
    return Figure.single("report without pictures", what, unit, value, aim)


def _peak(result: Result, place: Path) -> float:
    """What a report of a result takes on top of the result, in a process of its own [MB]."""
    kept = place / "result.pickle"
    kept.write_bytes(pickle.dumps(result))
    words = [sys.executable, "-c", PEAK, str(kept), str(place / "peak")]
    return float(subprocess.run(words, capture_output=True, text=True, check=True).stdout)


def figures(place: Path, counts: tuple[int, ...] = (1_000, 5_000), data: int = 100_000) -> list[Figure]:
    """All of it."""
    trip = dump(place / "trip", BASE)
    result = audit(trip, pixels="off")
    files = sorted(trip.rglob("*.JPG"))[:FILES]
    told = pages(files, {n: longer(result, n) for n in counts}, place)
    if data:
        beside = {"": TO_CSV, "frames.parquet": TO_PARQUET}
        told += timed(f"data files of {data:,} frames", data_works(longer(result, data), place), beside, 1)
    return told


def main() -> None:
    """Prints the figures, and writes them to --json."""
    parser = argparse.ArgumentParser()
    parser.add_argument("frames", nargs="*", type=int, default=[1_000, 5_000])
    parser.add_argument("--data", type=int, default=100_000, help="frames of the data files; 0: none")
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        told = figures(Path(place), tuple(asked.frames), asked.data)
    for one in told:
        ratio = f"  {one.ratio:.2f} x {one.against}" if one.ratio is not None else ""
        print(f"{one.part:30} {one.what:40} {one.median:9.3g} {one.unit}{ratio}")
    if asked.json:
        asked.json.write_text(json.dumps([one.plain() for one in told], indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
