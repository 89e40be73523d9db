"""Reads many damaged files in several processes: `python tests/fuzz/run.py [CASES] [FIRST] [PROCESSES]`.

A process judges some hundred cases and ends. If it dies or hangs, the case it was at is named, and the rest
goes on.
Every line names its case, which `python tests/fuzz/run.py 1 NUMBER 1` repeats.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

HERE = Path(__file__).parent
AT_ONCE, LONGEST_S = 500, 1800
CASES = 200_000


def _worker(first: int, count: int, folder: Path) -> None:
    sys.path[:0] = [str(HERE), str(HERE.parent / "scan"), str(HERE.parents[1])]
    from judge import judge

    place = folder / "at"
    files = folder / "files"
    files.mkdir()
    for line in judge(range(first, first + count), files, lambda number: _note(place, number)):
        print(line)
    print(f"peak {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024}")


def _note(place: Path, number: int) -> None:
    place.write_text(str(number))


def _batch(first: int, count: int) -> tuple[int, list[str]]:
    """Peak of memory [MiB] and the lines of some cases; one that ends the process is skipped, with a line."""
    peak, lines, end = 0, [], first + count
    while first < end:
        told, at, how = _process(first, end - first)
        if told and told[-1].startswith("peak "):
            return max(peak, int(told.pop().split()[1])), [*lines, *told]
        lines += [*told, f"case {at}: the process {how}"]
        if at is None:
            break
        first = at + 1
    return peak, lines


def _process(first: int, count: int) -> tuple[list[str], int | None, str]:
    """What a process says of some cases, the last of them that it began, and how it ended."""
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        words = [sys.executable, __file__, "worker", str(first), str(count), folder]
        try:
            done = subprocess.run(words, capture_output=True, text=True, timeout=LONGEST_S, check=False)
            lines, how = done.stdout.splitlines(), f"ended with {done.returncode}: {done.stderr[-500:]}"
        except subprocess.TimeoutExpired:
            lines, how = [], f"did not end within {LONGEST_S} s"
        at = Path(folder) / "at"
        return lines, int(at.read_text()) if at.exists() else None, how


def main(cases: int = CASES, first: int = 0, processes: int = os.cpu_count() or 1) -> int:
    """Judges the cases; how many lines there were to tell."""
    began, wrong, most = time.monotonic(), 0, 0
    print(
        f"cases {first} to {first + cases - 1}, each the seed of itself, in {processes} processes", flush=True
    )
    starts = range(first, first + cases, AT_ONCE)
    with ThreadPoolExecutor(processes) as pool:
        for peak, lines in pool.map(lambda at: _batch(at, min(AT_ONCE, first + cases - at)), starts):
            wrong, most = wrong + len(lines), max(most, peak)
            for line in lines:
                print(line, flush=True)
    took = time.monotonic() - began
    print(f"{cases} cases, {wrong} faults, {took:.0f} s, at most {most} MiB in a process")
    return wrong


if __name__ == "__main__":
    if sys.argv[1:2] == ["worker"]:
        _worker(int(sys.argv[2]), int(sys.argv[3]), Path(sys.argv[4]))
    else:
        sys.exit(1 if main(*map(int, sys.argv[1:])) else 0)
