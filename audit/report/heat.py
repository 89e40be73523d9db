"""The map of a pair of pictures as a small plate: how much darker each part is, in steps of stops.

Readable without colour: each step has its outline, the steps grow darker in grey too, and the four corners
and the middle carry their number.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audit.message.figures import number
from audit.message.text import joined, marked, say
from audit.optics.arrays import Floats
from audit.pixels.evidence import Evidence
from audit.report.coordinates import tenth
from audit.report.diagram import as_held

Mask = NDArray[np.bool_]

LONG_SIDE = 180.0
"""Length of the plate's long side in its own units."""
LEAST_SIDE = 76.0
"""So that two numbers fit beside each other on a panorama held upright."""
STEPS_STOPS = (0.25, 0.5, 1.0, 2.0)
"""Where the plate changes its tone."""
NUMBERED = 8
"""A corner's number is the median of an eighth of the rows by an eighth of the columns."""
UNKNOWN = "?"
MEASURED = marked(
    "Stops that the corners lack: top left {top_left}, top right {top_right}, "
    "bottom left {bottom_left}, bottom right {bottom_right}."
)
MEDIANS = marked(
    "Stops darker than the middle: top left {top_left}, top right {top_right}, "
    "bottom left {bottom_left}, bottom right {bottom_right}."
)
NUMBERS_MEASURED = marked("numbers: stops that each corner lacks; tones: stops darker than the middle")
NUMBERS_MEDIANS = marked("stops darker than the middle")
"""What the numbers in the corners are: those that were measured, else what the map shows there."""
INSET, BASELINE = 5.0, 14.0


@dataclass(frozen=True)
class PlateLabel:
    """A number on the plate: its place and the side it is set from (start, middle, end)."""

    x: str
    y: str
    anchor: str
    words: str


@dataclass(frozen=True)
class Plate:
    """Paths and numbers of one map in its own units; "" where nothing of a kind is in it."""

    id: str
    width: str
    height: str
    unknown: str
    brighter: str
    steps: tuple[str, ...]
    labels: tuple[PlateLabel, ...]
    description: str
    numbers: str

    @property
    def tall(self) -> bool:
        """Whether it is higher than wide."""
        return float(self.height) > float(self.width)


def plate(evidence: Evidence, orientation: int, name: str) -> Plate:
    """The plate of one map, upright as the picture is held. Raises ValueError for a map without cells."""
    darker = as_held(evidence.darker, orientation)
    if darker.ndim != 2 or not darker.size:
        raise ValueError(f"map of {evidence.frame} has the shape {darker.shape}, rows and columns are needed")
    cell = max(LONG_SIDE / max(darker.shape), LEAST_SIDE / min(darker.shape))
    width, height = darker.shape[1] * cell, darker.shape[0] * cell
    known = np.where(np.isfinite(darker), darker, 0.0)
    corners, middle = _numbers(darker)
    measured = len(evidence.corners) == len(corners)
    if measured:  # the numbers of which the sentence beside the plate tells the mean
        held = as_held(np.array(evidence.corners).reshape(2, 2), orientation)
        corners = [float(value) for value in held.ravel()]
    return Plate(
        id=name,
        width=tenth(width),
        height=tenth(height),
        unknown=outline(~np.isfinite(darker), cell),
        brighter=outline(known <= -STEPS_STOPS[0], cell),
        steps=tuple(outline(known >= step, cell) for step in STEPS_STOPS),
        labels=_labels(corners, middle, width, height),
        description=_description(corners, darker, MEASURED if measured else MEDIANS),
        numbers=NUMBERS_MEASURED if measured else NUMBERS_MEDIANS,
    )


def outline(inside: Mask, cell: float) -> str:
    """The border of a set of cells as one path of closed loops, to be filled by the even-odd rule."""
    onward = _borders(inside)
    loops = []
    for start in sorted(onward):
        while onward[start]:
            loops.append(_loop(onward, start, cell))
    return "".join(loops)


Point = tuple[int, int]


def _borders(inside: Mask) -> dict[Point, list[Point]]:
    """From each corner of a cell to the next along the border, clockwise around what is inside."""
    onward: dict[Point, list[Point]] = defaultdict(list)
    padded = np.pad(inside, 1)
    for row, column in np.argwhere(inside):
        y, x = int(row), int(column)
        corners = ((x, y), (x + 1, y), (x + 1, y + 1), (x, y + 1))
        beside = ((y, x + 1), (y + 1, x + 2), (y + 2, x + 1), (y + 1, x))
        for n, (r, c) in enumerate(beside):
            if not padded[r, c]:
                onward[corners[n]].append(corners[(n + 1) % 4])
    return onward


def _loop(onward: dict[Point, list[Point]], start: Point, cell: float) -> str:
    """One closed loop; only its turns are written."""
    words, here, along = [f"M{tenth(start[0] * cell)} {tenth(start[1] * cell)}"], start, ""
    while True:
        after = onward[here].pop()
        way = "H" if after[1] == here[1] else "V"
        part = f"{way}{tenth((after[0] if way == 'H' else after[1]) * cell)}"
        if way == along:
            words[-1] = part
        else:
            words.append(part)
        here, along = after, way
        if here == start:
            return "".join(words[:-1]) + "Z"  # closing draws the last side


def _numbers(darker: Floats) -> tuple[list[float], float]:
    """Medians in the four corners, from top left to bottom right, and in the middle third."""
    rows, columns = darker.shape
    high, wide = max(1, rows // NUMBERED), max(1, columns // NUMBERED)
    parts = [darker[:high, :wide], darker[:high, -wide:], darker[-high:, :wide], darker[-high:, -wide:]]
    middle = darker[rows // 3 : rows - rows // 3, columns // 3 : columns - columns // 3]
    return [_median(part) for part in parts], _median(middle)


def _median(part: Floats) -> float:
    """NaN where less than half is known."""
    known = part[np.isfinite(part)]
    return float(np.median(known)) if part.size and 2 * known.size >= part.size else float("nan")


def _labels(corners: list[float], middle: float, width: float, height: float) -> tuple[PlateLabel, ...]:
    left, right, top, bottom = INSET, width - INSET, BASELINE, height - INSET - 1
    places = (
        (left, top, "start"),
        (right, top, "end"),
        (left, bottom, "start"),
        (right, bottom, "end"),
        (width / 2, height / 2 + 4, "middle"),
    )
    return tuple(
        PlateLabel(tenth(x), tenth(y), anchor, _number(value))
        for (x, y, anchor), value in zip(places, [*corners, middle], strict=True)
    )


def _number(value: float) -> str:
    return number(value, 1) if np.isfinite(value) else UNKNOWN


def _description(corners: list[float], darker: Floats, message: str) -> str:
    top_left, top_right, bottom_left, bottom_right = (
        _number(value) if np.isfinite(value) else marked("unknown") for value in corners
    )
    said = say(
        message,
        top_left=top_left,
        top_right=top_right,
        bottom_left=bottom_left,
        bottom_right=bottom_right,
    )
    unknown = 100 * float(np.mean(~np.isfinite(darker)))
    rest = say("{unknown:.0f} % of the map is unknown.", unknown=unknown) if unknown >= 0.5 else ""
    return joined([said, rest], " ")
