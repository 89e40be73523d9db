"""Whole audits as a user runs them, beside a plain exifread loop over the same files."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from benchmarks.performance.files import dump
from benchmarks.performance.rounds import Figure, timed

LOOP = """
import sys, pathlib, exifread
for path in sorted(pathlib.Path(sys.argv[1]).rglob("*.JPG")):
    with path.open("rb") as file:
        exifread.process_file(file, details=False)
"""
PEAK = """
import sys
from audit.cli.entry import run
from benchmarks.performance.rounds import peak_mb
code = run(sys.argv[1:])
print(peak_mb())
sys.exit(code)
"""
LOOPED = "exifread loop"


def audited(trip: Path, out: Path, *more: str) -> float:
    """An audit in a process of its own; its peak of memory [MB]."""
    words = ["audit", str(trip), "--out", str(out), "--quiet", *more]
    done = subprocess.run([sys.executable, "-c", PEAK, *words], capture_output=True, text=True)
    if done.returncode not in (0, 1):
        raise RuntimeError(done.stderr)
    return float(done.stdout.split()[-1])


def figures(place: Path, frames: int, rounds: int) -> list[Figure]:
    """Time a frame of a first audit and of a second, and memory of two sizes."""
    trip, out = dump(place / f"trip-{frames}", frames), place / f"out-{frames}"
    larger = dump(place / f"trip-{2 * frames}", 2 * frames)
    part = f"audit of {frames:,} declared frames"
    told = timed(
        part,
        {
            LOOPED: lambda: subprocess.run([sys.executable, "-c", LOOP, str(trip)], check=True),
            "pixels off, nothing kept": lambda: audited(trip, out, "--pixels", "off", "--no-cache"),
            "pixels off, headers kept": lambda: audited(trip, out, "--pixels", "off"),
        },
        against=LOOPED,
        rounds=rounds,
        per=frames,
        unit="ms a frame",
        aims={"pixels off, nothing kept": "at most 3 x, 1.2 ms", "pixels off, headers kept": "5 x faster"},
    )
    peaks = [audited(one, place / "peak", "--pixels", "off", "--no-cache") for one in (trip, larger)]
    grown = (peaks[1] - peaks[0]) / frames * 1000
    told.append(Figure.single(part, "peak memory", "MB", peaks[0]))
    told.append(Figure.single(part, "for each further 1,000 frames", "MB", grown, "at most 10"))
    return told
