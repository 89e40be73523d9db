"""What reading by workers costs: small JPEGs by a plain loop in this process, by one worker and by two.

Alternating in one run: `PYTHONPATH=. python benchmarks/crew.py [FILES] [ROUNDS]`. The beginning and
the end of the workers count; the last line is what they cost by themselves.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from audit.crew.crew import Crew
from audit.demo import trip_files
from audit.scan.reader import read_file
from audit.scan.reading import rows


def write(folder: Path, count: int) -> list[Path]:
    """So many small JPEGs of the demo trip."""
    made = []
    for name, data in trip_files(small=True):
        if name.endswith(".JPG"):
            made.append(data)
        if len(made) == 20:
            break
    paths = [folder / f"TARN{number:04d}.JPG" for number in range(count)]
    for number, path in enumerate(paths):
        path.write_bytes(made[number % len(made)])
    return paths


def timed(call: Callable[[], object]) -> tuple[float, float]:
    """Seconds that a call takes, and of the processor's time with that of processes that ended in it."""
    began, worked = time.perf_counter(), sum(os.times()[:4])
    call()
    return time.perf_counter() - began, sum(os.times()[:4]) - worked


def by_crew(paths: list[Path], workers: int) -> None:
    """Begins workers, reads, ends them."""
    with Crew(workers):
        list(rows(paths))


def main(count: int = 3000, rounds: int = 5) -> None:
    """Prints min, median and max of both, and the ratios to the plain loop of the same round."""
    ways: dict[str, Callable[[list[Path]], object]] = {
        "plain loop": lambda paths: [read_file(path) for path in paths],
        "1 worker": lambda paths: by_crew(paths, 1),
        "2 workers": lambda paths: by_crew(paths, 2),
        "1 worker, 1 file": lambda paths: by_crew(paths[:1], 1),
    }
    found: dict[str, list[tuple[float, float]]] = {name: [] for name in ways}
    with tempfile.TemporaryDirectory() as place:
        paths = write(Path(place), count)
        for _ in range(rounds):
            for name, way in ways.items():
                found[name].append(timed(lambda way=way: way(paths)))  # type: ignore[misc]
    print(f"{count} files, {rounds} rounds, {os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}")
    for name, times in found.items():
        for number, what in enumerate(("clock", "processor")):
            seconds = [one[number] for one in times]
            ratios = [
                one[number] / plain[number] for one, plain in zip(times, found["plain loop"], strict=True)
            ]
            told = " ".join(f"{f(seconds):7.3f}" for f in (min, statistics.median, max))
            of = " ".join(f"{f(ratios):5.2f}" for f in (min, statistics.median, max))
            print(f"{name:17} {what:9} {told} s   of the plain loop: {of}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
