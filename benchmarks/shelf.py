"""A shelf of many trips: time a frame, and memory, by how many trips there are.

    PYTHONPATH=. python benchmarks/shelf.py [FRAMES A TRIP] [TRIPS ...]

Small declared JPEGs, pixels off, nothing kept. Memory is that of the largest single process: the command
itself, or one trip's. It has to stay where it is while trips are added.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path
from unittest import mock

from benchmarks.performance import files

NEXT_TRIP = timedelta(days=9)
RUN = """
import resource, sys
from audit.cli.entry import run
code = run(sys.argv[1:])
own, below = (resource.getrusage(one).ru_maxrss for one in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
print(own // 1024, below // 1024)
sys.exit(code)
"""


def fill(shelf: Path, trips: int, frames: int) -> None:
    """Trips that lie days apart."""
    shelf.mkdir()
    for number in range(trips):
        began = files.FIRST + number * NEXT_TRIP
        with mock.patch.object(files, "FIRST", began):
            files.dump(shelf / f"{began:%Y-%m-%d}", frames)


def main(frames: int, counts: list[int]) -> None:
    """Fills shelves, audits them, tells."""
    for trips in counts:
        with tempfile.TemporaryDirectory() as top:
            shelf, out = Path(top) / "shelf", Path(top) / "out"
            fill(shelf, trips, frames)
            words = ["shelf", str(shelf), "--out", str(out), "--pixels", "off", "--no-cache", "--quiet"]
            began_s = time.perf_counter()
            done = subprocess.run([sys.executable, "-c", RUN, *words], capture_output=True, text=True)
            took_s = time.perf_counter() - began_s
            told = json.loads((out / "newest" / "shelf.json").read_text(encoding="utf-8"))["trips"]
            own, below = map(int, done.stdout.split()[-2:])
            count = sum(one["counts"]["frames"] for one in told)
            print(
                f"{len(told):>5} trips, {count:>8,} frames: {took_s:7.1f} s, "
                f"{1000 * took_s / count:5.2f} ms a frame; "
                f"the command {own} MB, the largest other process {below} MB",
                flush=True,
            )


if __name__ == "__main__":
    words = [int(word) for word in sys.argv[1:]]
    main((words or [1_000])[0], words[1:] or [5, 20, 80])
