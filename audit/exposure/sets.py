"""Exposure series: frames of one composition whose exposures were stepped on purpose, by the camera or by hand.

What is looked at: exposure, compensation, program and pauses of frames in order, nothing of the picture. That filters
may explain a series as well is asked afterwards (`filter_runs.py`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from audit.exposure.steps import EVEN_STOPS, ODD_EACH, SAME_STOPS, STEP_STOPS, Steps, one_way, repeats, steps_of
from audit.optics.arrays import Floats

# All of these were chosen on the simulator of tests/exposure and the tune half of benchmarks/world.
BURST_GAP_S = 5.0
"""Longest pause in a series by the camera, seconds, after the exposures themselves and a dark frame as long."""
HAND_GAP_S = 30.0
"""The same where the photographer turned the exposure or its compensation from frame to frame."""
QUICK_S = 10.0
"""Longest pause of three or four frames in narrow steps, seconds, no dark frame counted: slower ones are tries that
were mended."""
BULB_S = 30.0
"""A few frames longer than this are tries by the clock, no series."""
AT_ONCE_S = 2.0
"""Longest pause, seconds, by which a series that nothing tells of is the camera's."""
MOST_STRAY, BROKEN_OFF_S = 2, 600.0
"""A series by hand that was broken off goes on after at most so many other frames and seconds."""
MOST = 41
"""Frames of the longest series: from 30 s to 1/8000 s in thirds of a stop there are 55 times, nobody takes all."""
TOLD_LEAST = 2
"""Two frames alone are a series only where the camera says so."""
LEAST = 3
WIDE_STOPS = 0.6
"""Narrower steps need compensation that says so, or `LONG` frames: exposure wavers by thirds, the hand's too."""
FULL_STOPS = 0.9
LONG = 5
BIAS_STOPS = 0.75
"""How far the metered light may waver while compensation is turned."""
BIAS_SHARE = 0.5
"""And in how large a part of the whole range of compensation."""
MOST_UNEVEN = 2.5
"""Compensation on a phone is a slider: its widest step against its usual one."""
DUSK_STOPS_PER_MIN = 1.0
"""How fast the light itself may go one way: common practice, no source."""


@dataclass(frozen=True)
class Run:
    """Frames of one body in order, as arrays; NaN where nothing was written.

    `pause` is that before each, s, `gap` the same where the camera took a dark frame as long as the exposure; `ev`
    the exposure as far as it is written (relative, where ISO speed or f-number are missing); frames of one `kind`
    may be of one series: scene, rig, program and what is written.
    """

    pause: Floats
    gap: Floats
    time_s: Floats
    ev: Floats
    bias: Floats
    f_number: Floats
    iso: Floats
    kind: NDArray[np.int64]
    told: NDArray[np.bool_]
    manual: NDArray[np.bool_]


class Found(NamedTuple):
    """Place and size of a series, who stepped it ("camera" or "hand"), and whether the time alone tells so."""

    start: int
    size: int
    by: str
    by_time: bool


def find_sets(run: Run) -> Iterator[Found]:
    """Every series, found greedily from the front, the largest first; the work grows with the frames."""
    last: Found | None = None
    for found in _in_one_go(run):
        if last and _taken_up(run, last, found):
            last = Found(last.start, found.start + found.size - last.start, "hand", True)
            continue
        if last:
            yield last
        last = found
    if last:
        yield last


def _in_one_go(run: Run) -> Iterator[Found]:
    if not len(run.ev):
        return
    known = ~np.isnan(run.ev)
    joins = (np.diff(run.kind) == 0) & (run.gap[1:] <= HAND_GAP_S) & known[1:] & known[:-1]
    start = 0
    for end in [*(np.flatnonzero(~joins) + 1).tolist(), len(run.ev)]:
        while start < end:
            found = _largest(run, start, end)
            if found:
                yield found
            start += found.size if found else 1


def _taken_up(run: Run, one: Found, two: Found) -> bool:
    """Whether the second goes on where the first, turned the same way by hand, was broken off."""
    first, last = one.start, two.start + two.size
    ends = one.start + one.size
    if not (one.by_time and two.by_time) or two.start - ends > MOST_STRAY or last - first > MOST:
        return False
    whole = slice(first, last)
    apart_s = float(np.maximum(run.gap[ends : two.start + 1], 0.0).sum())
    if np.ptp(run.kind[whole]) or not run.manual[whole].all() or apart_s > BROKEN_OFF_S:
        return False
    if not (_constant(run.f_number[whole]) and _constant(run.iso[whole])):
        return False
    ev = np.append(run.ev[first:ends], run.ev[two.start : last])
    steps = steps_of(ev)
    return steps.levels >= LONG and steps.widest <= 2 * steps.usual + EVEN_STOPS and one_way(ev)


def _largest(run: Run, start: int, end: int) -> Found | None:
    if run.told[start]:
        size = _told_size(run, start, end)
        if size >= TOLD_LEAST:
            return Found(start, size, "camera", False)
    for last in range(_reach(run, start, end), start + LEAST - 1, -1):
        if not _ends_well(run, start, last):
            continue
        if by := _stepped(run, slice(start, last)):
            return Found(start, last - start, *by)
    return None


def _told_size(run: Run, start: int, end: int) -> int:
    """Frames that the camera calls a bracket, until one comes again: by any steps, within seconds."""
    size = 1
    while start + size < end and run.told[start + size] and run.gap[start + size] <= BURST_GAP_S:
        if np.abs(run.ev[start : start + size] - run.ev[start + size]).min() < 2 * STEP_STOPS[0]:
            break
        size += 1
    while size > 1 and np.diff(np.sort(run.ev[start : start + size])).max() > STEP_STOPS[1]:
        size -= 1
    return size


def _reach(run: Run, start: int, end: int) -> int:
    """How far a series from here may reach at most: until too much of it was repeated."""
    again, last = 0, min(end, start + MOST)
    by_bias = not np.isnan(run.bias[start : min(end, start + LEAST)]).any()
    for place in range(start + 1, last):
        same = np.abs(run.ev[start:place] - run.ev[place]) <= SAME_STOPS
        if by_bias:
            same &= np.abs(run.bias[start:place] - run.bias[place]) <= SAME_STOPS / 2
        again += bool(same.any())
        if again > _repeats_allowed(place + 1 - start):
            return place
    return last


def _repeats_allowed(size: int) -> int:
    return 1 + size // 6


def _ends_well(run: Run, start: int, end: int) -> bool:
    """Whether it doesn't end on a frame from further back: that one begins what follows, or was taken to be sure."""
    same = np.abs(run.ev[start : end - 2] - run.ev[end - 1]) <= SAME_STOPS
    at_once = abs(run.ev[end - 2] - run.ev[end - 1]) <= SAME_STOPS
    if not np.isnan(run.bias[start:end]).any():
        same &= np.abs(run.bias[start : end - 2] - run.bias[end - 1]) <= SAME_STOPS / 2
    return bool(not same.any() or at_once)


def _stepped(run: Run, part: slice) -> tuple[str, bool] | None:
    """Who stepped these frames, and whether the time alone tells so; None where nobody did."""
    ev, bias = run.ev[part], run.bias[part]
    pace = _Pace(
        burst=bool((run.gap[part][1:] <= BURST_GAP_S).all()),
        quick=bool((run.pause[part][1:] <= QUICK_S).all()),
        bulb=bool((run.time_s[part] > BULB_S).any()),
        minutes=float(np.maximum(run.pause[part][1:], 0.0).sum() + run.time_s[part].sum()) / 60,
    )
    told, manual = bool(run.told[part].all()), bool(run.manual[part].all())
    at_once = bool((run.pause[part][1:] <= AT_ONCE_S).all()) and not manual
    by = "camera" if told or at_once else "hand"
    if _by_compensation(ev, bias, pace):
        return by, False
    if not (_constant(run.f_number[part]) and _constant(run.iso[part]) and (manual or _constant(bias))):
        return None
    return (by, True) if _by_time(ev, manual, pace) else None


class _Pace(NamedTuple):
    """How fast frames follow one another, whether any is longer than the dial goes, and how long all of it took."""

    burst: bool
    quick: bool
    bulb: bool
    minutes: float


def _constant(values: Floats) -> bool:
    return bool(np.isnan(values).all() or np.ptp(values) == 0)


def _even(steps: Steps) -> bool:
    """Even, or with one step left out."""
    return steps.odd == 0 or (steps.odd == 1 and steps.doubled == 1 and steps.levels > LEAST)


def _by_compensation(ev: Floats, bias: Floats, pace: _Pace) -> bool:
    """Compensation stepped, and the exposure followed it."""
    if np.isnan(bias).any() or np.ptp(bias) == 0:
        return False
    steps = steps_of(bias)
    if steps.levels < LEAST or steps.widest > STEP_STOPS[1] or repeats(bias) > _repeats_allowed(len(bias)):
        return False
    wavers = np.abs(ev + bias - np.median(ev + bias)).max()
    if wavers > BIAS_SHARE * np.ptp(bias) or np.ptp(ev) < BIAS_SHARE * np.ptp(bias):
        return False
    if steps.levels >= LONG and one_way(bias):
        return steps.widest <= MOST_UNEVEN * steps.usual
    if wavers > BIAS_STOPS:
        return False
    if steps.levels >= LONG:
        return _even(steps)
    steady = pace.quick or (steps.usual >= WIDE_STOPS and wavers <= EVEN_STOPS)
    return _even(steps) and steady and not pace.bulb


def _by_time(ev: Floats, manual: bool, pace: _Pace) -> bool:
    """The time alone stepped, at one aperture, ISO speed and compensation."""
    steps = steps_of(ev)
    if steps.levels < LEAST or steps.usual < STEP_STOPS[0] or steps.widest > STEP_STOPS[1]:
        return False
    if repeats(ev) > _repeats_allowed(len(ev)):
        return False
    if one_way(ev) and np.ptp(ev) <= DUSK_STOPS_PER_MIN * pace.minutes:
        return False
    wide = steps.usual >= WIDE_STOPS
    if not manual:
        return _even(steps) and wide and (pace.burst or steps.levels >= LONG)
    if steps.levels < LONG:
        return _even(steps) and wide and not pace.bulb and (pace.quick or steps.usual >= FULL_STOPS)
    return _even(steps) or one_way(ev) or steps.odd <= len(ev) // ODD_EACH
