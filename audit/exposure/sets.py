"""Exposure series: frames of one composition whose exposures the camera or a hand stepped on purpose.

Exposure, compensation, program and pauses of frames in order are looked at, nothing of the picture. Whether
filters explain a series as well is asked afterwards (`filter_runs.py`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from audit.exposure.steps import (
    EVEN_STOPS,
    LEAST,
    ODD_EACH,
    SAME_STOPS,
    STEP_STOPS,
    Steps,
    distinct,
    likely_sizes,
    one_way,
    repeats,
    repeats_allowed,
    steps_of,
)
from audit.optics.arrays import Floats

# All of these were chosen on the simulator of tests/exposure and the tune half of benchmarks/world.
BURST_GAP_S = 5.0
"""Longest pause in a series by the camera, s, after the exposure and a dark frame as long."""
HAND_GAP_S = 30.0
"""The same where the photographer turned the exposure or its compensation from frame to frame."""
QUICK_S = 10.0
"""Longest pause of three or four frames in steps of less than `FULL_STOPS`, s, without a dark frame: slower
ones are tries that were mended."""
STEADY_S = 20.0
"""The same of a few frames in wider steps."""
BRISK_S = 6.0
"""The same for three in steps of less than `WIDE_STOPS`, where no compensation tells of them."""
LATE_S, LATE_TIMES = 20.0, 3.0
"""After a pause longer than this and than so many usual ones a first or last frame is no part of a series."""
BULB_S = 30.0
ALL_TIMES = 8
"""Frames longer than the dial goes are tries by the clock, unless so many different exposures were taken."""
AT_ONCE_S = 2.0
"""Longest pause, s, of a series in automatic exposure that nothing else tells of: it is the camera's."""
MOST_STRAY, BROKEN_OFF_S = 2, 600.0
"""A series by hand that was broken off goes on after so many other frames and seconds at most."""
MOST = 41
"""Frames of the longest series; a dial in thirds has 55 times from 30 s to 1/8000 s."""
TOLD_LEAST = 2
"""Two frames alone are a series only where the camera says so."""
WIDE_STOPS = 0.6
FULL_STOPS = 0.9
"""Narrower steps need more to tell of them: exposure wavers by thirds, and is mended by them."""
LONG = 5
"""So many different exposures are no tries."""
BIAS_STOPS = 0.75
"""How far the metered light may waver while compensation is turned."""
BIAS_SHARE = 0.5
"""And in how large a part of the whole range of compensation."""
FOLLOWS_SHARE = 0.35
"""How far it may waver in a few frames, as a part of a step."""
MOST_UNEVEN = 2.5
"""Compensation on a phone is a slider: its widest step against its usual one."""
DUSK_STOPS_PER_MIN = 1.0
"""How fast the light itself may go one way: common practice, no source."""


@dataclass(frozen=True)
class Run:
    """Frames of one body in order, as arrays; NaN where nothing was written.

    `pause` is that before each, s, `gap` the same where the camera took a dark frame as long as the exposure;
    `ev` the exposure as far as it is written (relative, where ISO speed or f-number are missing); frames of
    one `kind` may be of one series: lens, focal length, framing, rig, program and what is written.
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
    """Place and size of a series, who stepped it ("camera", "hand"), and whether the time alone tells so."""

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
    if end - start < LEAST:
        return None
    for size in reversed(list(likely_sizes(_turned(run, start, end)))):
        last = start + size
        if not _ends_well(run, start, last):
            continue
        if by := _stepped(run, slice(start, last)):
            return None if _led(run, start, last) else Found(start, size, *by)
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


def _turned(run: Run, start: int, end: int) -> list[float]:
    """What seems to be turned from here on: compensation in automatic exposure, else the exposure itself."""
    first, last = slice(start, start + LEAST), min(end, start + MOST)
    by_bias = not run.manual[start] and not np.isnan(run.bias[first]).any() and np.ptp(run.bias[first]) > 0
    return list((run.bias if by_bias else run.ev)[start:last].tolist())


def _led(run: Run, start: int, end: int) -> bool:
    """Whether the first frame was to meter by: it comes again in what goes one way without it."""
    again = bool(_same(run, start, slice(start + 2, end)).any())
    return again and end - start > LEAST + 1 and one_way(run.ev[start + 1 : end])


def _ends_well(run: Run, start: int, end: int) -> bool:
    """Whether both ends are its own: no last frame that repeats one further back, and no long pause there."""
    at_once = abs(run.ev[end - 1] - run.ev[end - 2]) <= SAME_STOPS
    followed = not at_once and bool(_same(run, end - 1, slice(start, end - 2)).any())
    pauses = run.gap[start + 1 : end]
    late = max(pauses[0], pauses[-1]) > max(LATE_S, LATE_TIMES * float(np.median(pauses)))
    return not (followed or late)


def _same(run: Run, one: int, others: slice) -> NDArray[np.bool_]:
    """Which of the others have the exposure of one, and its compensation where that is written."""
    same = np.abs(run.ev[others] - run.ev[one]) <= SAME_STOPS
    return same & ~(np.abs(run.bias[others] - run.bias[one]) > SAME_STOPS / 2)


def _stepped(run: Run, part: slice) -> tuple[str, bool] | None:
    """Who stepped these frames, and whether the time alone tells so; None where nobody did."""
    ev, bias = run.ev[part], run.bias[part]
    pace = _Pace(
        at_once=bool((run.gap[part][1:] <= AT_ONCE_S).all()),
        brisk=bool((run.pause[part][1:] <= BRISK_S).all()),
        quick=bool((run.pause[part][1:] <= QUICK_S).all()),
        steady=bool((run.pause[part][1:] <= STEADY_S).all()),
        bulb=bool((run.time_s[part] > BULB_S).any()),
        minutes=float(np.maximum(run.pause[part][1:], 0.0).sum() + run.time_s[part].sum()) / 60,
    )
    told, manual = bool(run.told[part].all()), bool(run.manual[part].all())
    by = "camera" if told or (pace.at_once and not manual) else "hand"
    if _by_compensation(ev, bias, pace):
        return by, False
    if not (_constant(run.f_number[part]) and _constant(run.iso[part]) and (manual or _constant(bias))):
        return None
    unsaid = bool(np.isnan(bias).all())
    return (by, True) if (_by_time(ev, pace) if manual else _by_itself(ev, unsaid, pace)) else None


class _Pace(NamedTuple):
    """How fast frames follow one another, whether any is longer than the dial goes, how long all took."""

    at_once: bool
    brisk: bool
    quick: bool
    steady: bool
    bulb: bool
    minutes: float


def _constant(values: Floats) -> bool:
    return bool(np.isnan(values).all() or np.ptp(values) == 0)


def _by_compensation(ev: Floats, bias: Floats, pace: _Pace) -> bool:
    """Compensation stepped, and the exposure followed it."""
    if np.isnan(bias).any() or np.ptp(bias) == 0:
        return False
    steps = steps_of(bias)
    if steps.levels < LEAST or not steps.within or repeats(bias) > repeats_allowed(len(bias)):
        return False
    wavers = np.abs(ev + bias - np.median(ev + bias)).max()
    if wavers > BIAS_SHARE * np.ptp(bias) or np.ptp(ev) < BIAS_SHARE * np.ptp(bias):
        return False
    if steps.levels >= LONG and one_way(bias):
        return steps.widest <= MOST_UNEVEN * steps.usual
    if steps.levels >= LONG:
        return steps.even and wavers <= BIAS_STOPS
    followed = wavers <= max(EVEN_STOPS, FOLLOWS_SHARE * steps.usual) and len(distinct(ev)) >= LEAST
    return (
        steps.even
        and followed
        and not pace.bulb
        and (pace.quick or steps.usual >= WIDE_STOPS or steps.levels > LEAST)
    )


def _stepped_far(ev: Floats, steps: Steps, pace: _Pace) -> bool:
    """Whether there are levels enough, no step too wide, few repeats, and more of it than dusk explains."""
    drifts = one_way(ev) and np.ptp(ev) <= DUSK_STOPS_PER_MIN * pace.minutes
    few = steps.levels < LEAST or repeats(ev) > repeats_allowed(len(ev))
    return steps.within and not few and not drifts


def _by_time(ev: Floats, pace: _Pace) -> bool:
    """The time alone stepped by hand, at one aperture and ISO speed."""
    steps = steps_of(ev)
    if not _stepped_far(ev, steps, pace):
        return False
    if pace.bulb and steps.levels < ALL_TIMES:
        return False
    if steps.levels >= LONG:
        return steps.even or one_way(ev) or steps.odd <= len(ev) // ODD_EACH
    wide, full = steps.usual >= WIDE_STOPS, steps.usual >= FULL_STOPS
    return (
        steps.even and (pace.quick or (full and pace.steady)) and (wide or pace.brisk or steps.levels > LEAST)
    )


def _by_itself(ev: Floats, unsaid: bool, pace: _Pace) -> bool:
    """Stepped in automatic exposure: at once, or many frames of a body that writes no compensation."""
    steps = steps_of(ev)
    told = pace.at_once or (unsaid and steps.levels >= LONG)
    return told and steps.even and steps.usual >= WIDE_STOPS and _stepped_far(ev, steps, pace)
