"""A span of times that covers nothing: the shift of a clock that would make it fit."""

from __future__ import annotations

from datetime import timedelta

from audit.declare.index import FrameIndex
from audit.declare.spans import cover
from audit.declare.worn import Worn
from audit.kit.kit import Kit
from audit.message.text import plural

SHIFTS_H = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0)
"""Clocks are most often wrong by the hours of a zone or of summer time: common practice, no source."""


def would_fit(worn: Worn, folder: str, kit: Kit, index: FrameIndex) -> str:
    """The question whether one clock is some hours off, or nothing where no shift or more than one fits.

    The least shift by which frames of one body alone are met; where as large a one the other way meets some
    too, nothing tells which it is.
    """
    if worn.times is None or worn.times[0].tzinfo is not None or worn.times[1].tzinfo is not None:
        return ""
    for hours in SHIFTS_H:
        found = {sign: _met(worn, folder, index, sign * hours) for sign in (1, -1)}
        met = [(sign * hours, rows) for sign, rows in found.items() if rows]
        if len(met) > 1:
            return ""
        if met:
            return _asked(*met[0], kit, index)
    return ""


def _met(worn: Worn, folder: str, index: FrameIndex, hours: float) -> list[int]:
    assert worn.times is not None
    start, end = sorted(worn.times)
    by = timedelta(hours=hours)
    moved = worn.model_copy(update={"times": (start + by, end + by)})
    return [int(row) for row in cover(moved, folder, index).rows]


def _asked(hours: float, rows: list[int], kit: Kit, index: FrameIndex) -> str:
    bodies = {index.bodies[row] for row in rows}
    label = bodies.pop()
    if bodies or label is None:
        return ""
    body = kit.body(label)
    ahead_s = round((body.clock_ahead_s if body is not None else 0.0) + hours * 3600)
    return plural(
        len(rows),
        "shifted by {shift_written} h it would cover {n} frame of body {name}: is its clock off by that? "
        "then write clock_ahead_s = {ahead_written} for this body into the kit",
        "shifted by {shift_written} h it would cover {n} frames of body {name}: is its clock off by that? "
        "then write clock_ahead_s = {ahead_written} for this body into the kit",
        name=label.removeprefix("body "),
        shift_written=f"{hours:+.0f}",
        ahead_written=str(ahead_s),
    )
