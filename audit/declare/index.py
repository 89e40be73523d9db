"""The frame table as the spans look at it: by name, by folder, by body in capture order, by time."""

from __future__ import annotations

import heapq
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from pathlib import PurePosixPath
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.message.shown import alike
from audit.message.text import say

WRAP = 9999
"""The last DCF file number; the next is 0001 (DCF 2.0, JEITA CP-3461)."""

# Three digits and five free characters (DCF 2.0); a letter first keeps 20260502 out, and four are let pass.
_DCF_FOLDER = re.compile(r"(?:(.*)/)?([1-9]\d\d)[A-Za-z_][A-Za-z0-9_]{2,4}$")
LATEST = float("inf")


class IndexedFrame(NamedTuple):
    """One frame: row number, folder, counter and time, None where it has none."""

    row: int
    folder: str
    counter: int | None
    time_us: int | None
    name: str


def capture_order(shots: list[IndexedFrame]) -> list[int]:
    """Row numbers of one body's frames in the order they were taken."""
    cards: dict[tuple[str, bool], dict[tuple[int, str], list[IndexedFrame]]] = {}
    for shot in shots:
        card, number = _card(shot.folder)
        folders = cards.setdefault((card, shot.counter is not None), {})
        folders.setdefault((number, shot.folder), []).append(shot)
    runs = []
    for (_, counted), folders in sorted(cards.items()):
        run: list[IndexedFrame] = []
        for place in sorted(folders):
            run += _by_counter(folders[place]) if counted else sorted(folders[place], key=_time_then_name)
        runs.append(list(_timed(run)))
    return [shot.row for _, shot in heapq.merge(*runs, key=lambda pair: (pair[0], pair[1].counter or 0))]


def _card(folder: str) -> tuple[str, int]:
    """Where folders count on from one another: a card's DCF folders share it, others stand alone."""
    match = _DCF_FOLDER.match(folder)
    return (f"{match.group(1) or ''}/DCF", int(match.group(2))) if match else (folder, 0)


def _time_then_name(shot: IndexedFrame) -> tuple[float, str]:
    return (LATEST if shot.time_us is None else shot.time_us), shot.name


def _by_counter(shots: list[IndexedFrame]) -> list[IndexedFrame]:
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


def _steps_back(line: list[IndexedFrame]) -> int:
    """How often the clock runs backwards along a line of frames."""
    times = [s.time_us for s in line if s.time_us is not None]
    return sum(after < before for before, after in pairwise(times))


def _timed(run: list[IndexedFrame]) -> Iterator[tuple[float, IndexedFrame]]:
    """Each frame with the latest time so far, so that a merge by time keeps the run's own order."""
    latest = next((s.time_us for s in run if s.time_us is not None), LATEST)
    for shot in run:
        if shot.time_us is not None:
            latest = max(latest, shot.time_us)
        yield latest, shot


Rows = NDArray[np.int64]
NO_TIME = np.iinfo(np.int64).min

_ENDING = re.compile(r"\.[A-Za-z0-9]{2,4}$")
_DIGITS = re.compile(r"\d+$")


@dataclass
class FrameIndex:
    """Columns as plain lists and arrays; rows are counted from 0 in table order.

    `folders`: of each frame's first file; `inside`: the rows with any file in a folder or below it, by its
    name (a body with two slots writes on both cards). `true_us`: local true time in microseconds since 1970
    (the clock set right), NO_TIME where the file has none. `offset_us`: offset from UTC,
    NO_TIME where the camera wrote none.
    """

    frames: list[str]
    folders: list[str]
    inside: dict[str, Rows]
    bodies: list[str | None]
    sequence: list[str]
    true_us: Rows
    offset_us: Rows
    names: dict[str, list[tuple[int, tuple[str, ...]]]] = field(repr=False)
    order: dict[str, list[int]] = field(repr=False)
    place: list[int] = field(repr=False)

    @cached_property
    def labels(self) -> list[str]:
        """Every body that is known."""
        return sorted({body for body in self.bodies if body is not None})

    def below(self, folder: str) -> Rows:
        """Rows of the frames with a file in a folder or below it, growing."""
        return self.inside.get(folder, np.zeros(0, dtype=np.int64))

    def named(self, written: str) -> list[int]:
        """Rows of the frames a written name can mean: ending and folders optional, case and form ignored."""
        parts = tuple(part for part in alike(written.replace("\\", "/")).split("/") if part not in ("", "."))
        if not parts:
            return []
        folders, name = parts[:-1], parts[-1]
        found = self.names.get(name) or self.names.get(_ENDING.sub("", name), [])
        rows = {row for row, where in found if not folders or where[-len(folders) :] == folders}
        return sorted(rows)

    def short(self, row: int) -> str:
        """A frame's name without its folder."""
        return PurePosixPath(self.frames[row]).name

    def short_range(self, rows: list[int]) -> str:
        """`TARN0110`, or `TARN0110 to TARN0112`, in capture order."""
        line = sorted(rows, key=lambda row: (self.sequence[row], self.place[row]))
        first, last = self.short(line[0]), self.short(line[-1])
        if first == last:
            return first
        return say("{first_frame} to {last_frame}", first_frame=first, last_frame=last)


def frame_index(frames: pd.DataFrame) -> FrameIndex:
    """Index of a frame table with its body column filled."""
    names = [str(x) for x in frames["frame"]]
    folders = [str(x) for x in frames["folder"]]
    bodies = [x if isinstance(x, str) else None for x in frames["body"]]
    sequence = _sequences(names, folders, bodies)
    true_us, offset_us = _micros(frames["captured_at"]), _offsets(frames["utc_offset_min"])
    order = _orders(frames, names, folders, sequence, true_us, offset_us)
    place = [0] * len(names)
    for rows in order.values():
        for position, row in enumerate(rows):
            place[row] = position
    return FrameIndex(
        names,
        folders,
        _inside(frames),
        bodies,
        sequence,
        true_us,
        offset_us,
        _names(frames),
        order,
        place,
    )


def among(rows: Sequence[int], inside: Rows) -> list[int]:
    """Those of some rows, in their order, that are inside."""
    wanted = np.asarray(rows, dtype=np.int64)
    return wanted[inside[np.searchsorted(inside[:-1], wanted)] == wanted].tolist() if len(inside) else []


def _inside(frames: pd.DataFrame) -> dict[str, Rows]:
    found: dict[str, list[int]] = {}
    columns = zip(frames["folder"], frames["files"], frames["copies"], strict=True)
    for row, (folder, files, copies) in enumerate(columns):
        beside = (str(file).rpartition("/")[0] or "." for file in (*files, *copies))
        for above in {name for where in {str(folder), *beside} for name in upwards(where)}:
            found.setdefault(above, []).append(row)
    return {above: np.array(rows, dtype=np.int64) for above, rows in found.items()}


def upwards(folder: str) -> list[str]:
    """A folder and all above it, the dump itself last."""
    parts = [] if folder == "." else folder.split("/")
    return [*("/".join(parts[:n]) for n in range(len(parts), 0, -1)), "."]


def _micros(times: pd.Series) -> Rows:
    values = times.to_numpy(dtype="datetime64[us]")
    return np.where(np.isnat(values), NO_TIME, values.astype(np.int64))


def _offsets(minutes: pd.Series) -> Rows:
    values = pd.to_numeric(minutes).astype("Float64").to_numpy(dtype=float, na_value=np.nan)
    known = np.isfinite(values)
    return np.where(known, np.where(known, values, 0.0) * 60e6, float(NO_TIME)).astype(np.int64)


def _names(frames: pd.DataFrame) -> dict[str, list[tuple[int, tuple[str, ...]]]]:
    """Folded stems of all files of all frames, each with the folders it lies in."""
    found: dict[str, list[tuple[int, tuple[str, ...]]]] = {}
    for row, (files, copies) in enumerate(zip(frames["files"], frames["copies"], strict=True)):
        for file in dict.fromkeys(alike(str(f)).rsplit(".", 1)[0] for f in (*files, *copies)):
            *folders, stem = file.split("/")
            found.setdefault(stem, []).append((row, tuple(folders)))
    return found


def _sequences(names: list[str], folders: list[str], bodies: list[str | None]) -> list[str]:
    """The body in whose order each frame counts: its own, or that of its neighbours with the same prefix.

    A file that could not be read has no body, yet it lies between the others of its card.
    """
    prefixes = [_DIGITS.sub("", PurePosixPath(name).name) for name in names]
    around: dict[tuple[str, str], set[str]] = {}
    for prefix, folder, body in zip(prefixes, folders, bodies, strict=True):
        if body is not None:
            around.setdefault((folder, prefix), set()).add(body)
    found = []
    for prefix, folder, body in zip(prefixes, folders, bodies, strict=True):
        near = around.get((folder, prefix), set())
        found.append(body if body is not None else next(iter(near)) if len(near) == 1 else f"\0{folder}")
    return found


def _orders(
    frames: pd.DataFrame,
    names: list[str],
    folders: list[str],
    sequence: list[str],
    true_us: Rows,
    offset_us: Rows,
) -> dict[str, list[int]]:
    """Rows of each body in capture order; by UTC where every timed frame of the body has an offset."""
    members: dict[str, list[int]] = {}
    for row, body in enumerate(sequence):
        members.setdefault(body, []).append(row)
    counters = [None if pd.isna(c) else int(c) for c in frames["counter"]]
    orders = {}
    for body, rows in members.items():
        by_utc = all(offset_us[row] != NO_TIME for row in rows if true_us[row] != NO_TIME)
        shots = []
        for row in rows:
            time_us = None if true_us[row] == NO_TIME else int(true_us[row])
            if time_us is not None and by_utc:
                time_us -= int(offset_us[row])
            shots.append(IndexedFrame(row, folders[row], counters[row], time_us, names[row]))
        orders[body] = capture_order(shots)
    return orders
