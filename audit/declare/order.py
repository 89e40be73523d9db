"""The order in which one body took its frames.

The clock alone does not give it: clocks are set back on the way. Within a card the folder number and the
counter do, across the wrap from 9999 to 0001; several cards or hand-made folders of one body are then merged
by time, each keeping its own order.
"""

from __future__ import annotations

import heapq
import re
from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

WRAP = 9999
"""The last DCF file number; the next is 0001 (DCF 2.0, JEITA CP-3461)."""

# Three digits and five free characters (DCF 2.0); a letter first keeps 20260502 out, and four are let pass.
_DCF_FOLDER = re.compile(r"(?:(.*)/)?([1-9]\d\d)[A-Za-z_][A-Za-z0-9_]{2,4}$")
LATEST = float("inf")


class Shot(NamedTuple):
    """One frame: row number, folder, counter and time, None where it has none."""

    row: int
    folder: str
    counter: int | None
    time_us: int | None
    name: str


def capture_order(shots: list[Shot]) -> list[int]:
    """Row numbers of one body's frames in the order they were taken."""
    cards: dict[tuple[str, bool], dict[tuple[int, str], list[Shot]]] = {}
    for shot in shots:
        card, number = _card(shot.folder)
        folders = cards.setdefault((card, shot.counter is not None), {})
        folders.setdefault((number, shot.folder), []).append(shot)
    runs = []
    for (_, counted), folders in sorted(cards.items()):
        run: list[Shot] = []
        for place in sorted(folders):
            run += _by_counter(folders[place]) if counted else sorted(folders[place], key=_time_then_name)
        runs.append(list(_timed(run)))
    return [shot.row for _, shot in heapq.merge(*runs, key=lambda pair: (pair[0], pair[1].counter or 0))]


def _card(folder: str) -> tuple[str, int]:
    """Where folders count on from one another: a card's DCF folders share it, others stand alone."""
    match = _DCF_FOLDER.match(folder)
    return (f"{match.group(1) or ''}/DCF", int(match.group(2))) if match else (folder, 0)


def _time_then_name(shot: Shot) -> tuple[float, str]:
    return (LATEST if shot.time_us is None else shot.time_us), shot.name


def _by_counter(shots: list[Shot]) -> list[Shot]:
    """One folder's frames by counter, turned at its widest gap where the counter has wrapped."""
    line = sorted(shots, key=lambda s: (s.counter or 0, _time_then_name(s)))
    numbers = [s.counter or 0 for s in line]
    if len(line) < 2 or numbers[-1] > WRAP:
        return line
    gaps = [after - before for before, after in pairwise(numbers)]
    widest = max(range(len(gaps)), key=lambda i: gaps[i])
    if numbers[0] + WRAP - numbers[-1] >= gaps[widest]:
        return line
    turned = [*line[widest + 1 :], *line[: widest + 1]]
    return turned if _steps_back(turned) <= _steps_back(line) else line


def _steps_back(line: list[Shot]) -> int:
    """How often the clock runs backwards along a line of frames."""
    times = [s.time_us for s in line if s.time_us is not None]
    return sum(after < before for before, after in pairwise(times))


def _timed(run: list[Shot]) -> Iterator[tuple[float, Shot]]:
    """Each frame with the latest time so far, so that a merge by time keeps the run's own order."""
    latest = next((s.time_us for s in run if s.time_us is not None), LATEST)
    for shot in run:
        if shot.time_us is not None:
            latest = max(latest, shot.time_us)
        yield latest, shot
