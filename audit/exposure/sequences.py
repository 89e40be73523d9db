"""Sequences within setups, from times and settings alone: each kind with its evidence in words.

Arrays run over frames in order of body and time. What counts once is a frame, or a bracket as a whole.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from audit.exposure.shots import (
    Flags,
    Rows,
    Sequence,
    Shots,
    alike,
    before,
    duration,
    pauses_s,
    runs,
    same_exposure,
)
from audit.exposure.steps import distinct
from audit.message.text import marked, say
from audit.optics.arrays import Floats

# All of these: common practice, no source.
MANY = 30
"""Fewest frames of a time-lapse."""
LEAST_INTERVAL_S, STAMP_S, UNSTEADY, DROPPED = 1.5, 1.0, 0.02, 2
"""A time-lapse's shortest interval, what time stamps round off, how far an interval may waver beyond, and how
many frames in a row may be missing."""
LONG_S = 5.0
"""From here on the same exposure again is a repeat; below it may be a part of a panorama."""
REPEAT_GAP_S = 120.0
TRIAL_GAP_S, TRIAL_RATIO, TRIAL_LONG_S, TRIAL_STOPS, TRIALS = 300.0, 4.0, 4.0, 2.0, 3
"""A trial: at most this long before the long exposure, so many times its ISO and shorter than it, that much
alike in exposure, and so many in a row."""
PAN_GAP_S, PAN_UNEVEN = (1.0, 30.0), 2.5
PARTS_UPRIGHT, PARTS_LEVEL, PARTS_MOST = 3, 4, 40
STACK_GAP_S, STACK_LEAST = 3.0, 3
BURST_GAP_S, BURST_LEAST = 1.5, 5


def find_sequences(shots: Shots) -> Iterator[Sequence]:
    """Every sequence, a frame in one at most: the larger wholes first."""
    taken = np.zeros(len(shots.setup), dtype=bool)
    if not len(taken):
        return
    units = _units(shots)
    for finder in (_time_lapses, _panoramas):
        for sequence in finder(shots, units):
            if not taken[sequence.rows].any():
                taken[sequence.rows] = True
                yield sequence
    for single in (_stacks, _repeats, _brackets, _trials):
        for sequence in single(shots):
            if not taken[sequence.rows].any():
                taken[sequence.rows] = True
                yield sequence


class _Units(NamedTuple):
    """Frames and brackets: the first row of each, one past its last."""

    first: Rows
    end: Rows


def _units(shots: Shots) -> _Units:
    inside = np.append(False, (shots.bracket[1:] >= 0) & (shots.bracket[1:] == shots.bracket[:-1]))
    first = np.flatnonzero(~inside)
    return _Units(first, np.append(first[1:], len(inside)))


def _time_lapses(shots: Shots, units: _Units) -> Iterator[Sequence]:
    """Many frames (or brackets) at one interval."""
    at, setup = shots.at_s[units.first], shots.setup[units.first]
    interval = at - before(at)
    along = np.append(False, setup[1:] == setup[:-1]) & (interval >= LEAST_INTERVAL_S)
    shorter = np.fmin(interval, before(interval))
    alternate = 2 * STAMP_S  # one stamp rounded the other way makes one interval longer and the next shorter
    regular = along & np.append(False, along[:-1])
    regular &= _whole(interval, shorter, alternate) & _whole(before(interval), shorter, alternate)
    for start, end in runs(regular, MANY - 1):
        start -= int(along[start])  # the first interval is the one before the first that repeats
        middle = float(np.median(interval[start + 1 : end]))
        steady = _whole(interval[start:end], middle, STAMP_S)
        steady[0] = False
        for left, right in runs(steady, MANY):
            if _on_a_line(at[start + left : start + right], middle):
                rows = np.arange(units.first[start + left], units.end[start + right - 1])
                words = say(
                    "time-lapse: {count} frames or brackets, one every {interval:.3g} s",
                    count=right - left,
                    interval=middle,
                )
                yield Sequence(marked("time-lapse"), rows, words)


def _whole(interval_s: Floats, unit_s: Floats | float, stamp_s: float) -> Flags:
    """Whether intervals are one unit, or a few where frames between are not there or have no time."""
    unit = np.maximum(unit_s, LEAST_INTERVAL_S)
    count = np.maximum(np.rint(interval_s / unit), 1.0)
    near: Flags = np.abs(interval_s - count * unit) <= np.minimum(stamp_s + UNSTEADY * unit, 0.4 * unit)
    return near & (count <= 1 + DROPPED)


def _on_a_line(at_s: Floats, interval_s: float) -> bool:
    """Whether times follow one interval throughout: the errors of a clockwork do not add up."""
    count = np.cumsum(np.rint(np.diff(at_s, prepend=at_s[0]) / interval_s))
    line = np.polyval(np.polyfit(count, at_s - at_s[0], 1), count)
    return bool(np.ptp(at_s - at_s[0] - line) <= 1.5 * STAMP_S + 2 * UNSTEADY * interval_s)


def _panoramas(shots: Shots, units: _Units) -> Iterator[Sequence]:
    """One exposure set by hand, at the pace of a head turned step by step."""
    first, last = units.first, units.end - 1
    size = units.end - first
    joins = np.append(False, shots.setup[first[1:]] == shots.setup[first[:-1]])
    for values in (shots.time_s, shots.f_number, shots.iso, shots.distance_m):
        joins &= alike(values[first])
    time_s = np.nan_to_num(shots.time_s)
    ends = np.append(np.nan, (shots.at_s + time_s)[last[:-1]])
    pause = shots.at_s[first] - ends
    joins &= np.append(False, size[1:] == size[:-1]) & shots.manual[first] & (time_s[first] < LONG_S)
    joins &= (pause >= PAN_GAP_S[0] - STAMP_S) & (pause <= PAN_GAP_S[1])
    for start, end in runs(joins, PARTS_UPRIGHT):
        gaps, upright = pause[start + 1 : end], bool(shots.upright[first[start]])
        fewest = PARTS_UPRIGHT if upright else PARTS_LEVEL
        even = gaps.max() <= PAN_UNEVEN * max(gaps.min(), PAN_GAP_S[0]) + STAMP_S
        if fewest <= end - start <= PARTS_MOST and even and gaps.mean() >= PAN_GAP_S[0]:
            yield _panorama(np.arange(first[start], units.end[end - 1]), gaps, size[start], upright)


def _panorama(rows: Rows, gaps: Floats, size: int, upright: bool) -> Sequence:
    if size == 1:
        parts = say("{count} frames", count=len(rows))
    else:
        parts = say("{count} brackets", count=len(rows) // size)
    level = marked(
        "may be a panorama: {parts}, one focal length and exposure set by hand, "
        "{least:.0f} to {most:.0f} s apart; whether the framing walks was not measured"
    )
    turned = marked(
        "may be a panorama: {parts}, upright, one focal length and exposure set by hand, "
        "{least:.0f} to {most:.0f} s apart; whether the framing walks was not measured"
    )
    words = say(turned if upright else level, parts=parts, least=gaps.min(), most=gaps.max())
    return Sequence(marked("panorama"), rows, words)


def _stacks(shots: Shots) -> Iterator[Sequence]:
    """One exposure in a burst while the focus walks; where no distance is written, a long burst by hand."""
    pause, distance = pauses_s(shots), shots.distance_m
    burst = same_exposure(shots) & (shots.bracket < 0) & (pause <= STACK_GAP_S)
    step = np.sign(distance - before(distance))
    walks = burst & (np.abs(step) == 1)
    walks &= ~(np.append(False, walks[:-1]) & (step != before(step)))
    for start, end in runs(walks, STACK_LEAST):
        rows, near_far = np.arange(start, end), (distance[start], distance[end - 1])
        words = say(
            "focus stack: {count} frames of one exposure at most {pause:.0f} s apart, "
            "focus from {first:.3g} to {last:.3g} m",
            count=len(rows),
            pause=pause[start + 1 : end].max(),
            first=near_far[0],
            last=near_far[1],
        )
        yield Sequence(marked("focus stack"), rows, words)
    blind = burst & np.isnan(distance) & shots.manual & (pause <= BURST_GAP_S)
    for start, end in runs(blind, BURST_LEAST):
        words = say(
            "may be a focus stack: {count} frames of one exposure in a burst; no distance written",
            count=end - start,
        )
        yield Sequence("focus stack", np.arange(start, end), words)


def _repeats(shots: Shots) -> Iterator[Sequence]:
    """The same long exposure again; the camera may take a dark frame as long in between."""
    pause = pauses_s(shots) - np.nan_to_num(before(shots.time_s))
    again = same_exposure(shots) & (shots.time_s >= LONG_S) & (pause <= REPEAT_GAP_S)
    for start, end in runs(again, 2):
        time = duration(shots.time_s[start])
        words = say("the same exposure of {time} {count} times", time=time, count=end - start)
        yield Sequence(marked("repeats"), np.arange(start, end), words)


def _brackets(shots: Shots) -> Iterator[Sequence]:
    """The brackets found before, with their steps."""
    inside = (shots.bracket >= 0) & (shots.bracket == np.append(-2, shots.bracket[:-1]))
    for start, end in runs(inside, 2):
        ev = shots.ev[start:end]
        ev = -np.log2(shots.time_s[start:end]) if np.isnan(ev).any() else ev
        words = _bracket_words(end - start, np.diff(distinct(ev)))
        if shots.undecided[start]:
            words = say("may be a {bracket}; filters that went on or off explain it as well", bracket=words)
        yield Sequence(marked("bracket"), np.arange(start, end), words)


def _bracket_words(count: int, steps: Floats) -> str:
    if np.ptp(steps) < 0.25:
        return say("bracket: {count} frames in steps of {step:.1f} stops", count=count, step=steps.mean())
    return say(
        "bracket: {count} frames in steps of {least:.1f} to {most:.1f} stops",
        count=count,
        least=steps.min(),
        most=steps.max(),
    )


def _trials(shots: Shots) -> Iterator[Sequence]:
    """Frames at high ISO just before a long exposure at a lower one, at most `TRIALS` in a row."""
    fast = _trial_of(shots, np.arange(1, len(shots.setup) + 1))
    last = np.flatnonzero(fast)
    for row in last.tolist():
        target, first = row + 1, row
        while row - first < TRIALS and first > 0 and _one_trial(shots, first - 1, target):
            first -= 1
        if row - first < TRIALS:
            for one in range(first, row + 1):
                yield Sequence(marked("trial"), np.array([one]), _trial_words(shots, one, target))


def _trial_of(shots: Shots, target: Rows) -> Flags:
    """Whether each frame is a trial of its target; a target past the end is none."""
    there = target < len(shots.setup)
    to = np.where(there, target, 0)
    gap = shots.at_s[to] - shots.at_s - np.nan_to_num(shots.time_s)
    return (
        there
        & (shots.setup[to] == shots.setup)
        & (gap <= TRIAL_GAP_S + np.nan_to_num(shots.time_s[to]))  # the stamp may be the end
        & (shots.iso >= TRIAL_RATIO * shots.iso[to])
        & (shots.time_s[to] >= TRIAL_RATIO * shots.time_s)
        & (shots.time_s[to] >= TRIAL_LONG_S)
        & (np.abs(shots.ev - shots.ev[to]) <= TRIAL_STOPS)
    )


def _one_trial(shots: Shots, row: int, target: int) -> bool:
    one = Shots(**{name: getattr(shots, name)[[row, target]] for name in Shots.__dataclass_fields__})
    return bool(_trial_of(one, np.array([1, 2]))[0])


def _trial_words(shots: Shots, row: int, target: int) -> str:
    return say(
        "trial of {time} at ISO {iso:.0f} before {later_time} at ISO {later_iso:.0f}",
        time=duration(shots.time_s[row]),
        iso=shots.iso[row],
        later_time=duration(shots.time_s[target]),
        later_iso=shots.iso[target],
    )
