"""Frames of another trip that still lay on the card, weeks from the trip with most frames."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.table.columns import filled

GAP = pd.Timedelta(days=14)
"""So long without a frame, and another trip begins: common practice, no source. A rest of some days does not
split a journey."""
LEAST_SHARE = 0.75
"""The trip holds so many of the timed frames; else nothing tells which trip is meant."""
COUNTERS, FORWARD = 9999, 5000
"""File numbers run to 9999 and start again (DCF 2.0); within half a round one tells which came first."""


def add_other_trips(frames: pd.DataFrame) -> pd.DataFrame:
    """Fills `other_trip`: whether a frame is of a trip before or after the one with most frames, or null.

    Nothing is set aside that may be of the trip: a body that took no other frames (its clock may be wrong),
    frames whose counters contradict their dates, a clock that started again on a first of January.
    """
    timed = frames[frames["captured_at"].notna()].sort_values("captured_at", kind="stable")
    found = pd.Series(None, index=frames.index, dtype=object)
    part = (timed["captured_at"].diff() > GAP).cumsum()
    sizes = part.value_counts()
    if len(sizes) > 1 and sizes.iloc[0] >= LEAST_SHARE * len(timed):
        main = timed[part == sizes.index[0]]
        for number in sizes.index[1:]:
            group = timed[part == number]
            for body, mine in group.groupby("body"):
                side = "before" if number < sizes.index[0] else "after"
                if not _restarted(mine) and _in_order(mine, main[main["body"] == body], side):
                    found.loc[mine.index] = side
    return filled(frames, {"other_trip": found})


def _restarted(part: pd.DataFrame) -> bool:
    """Whether a clock may have lost its power: it then starts at the first of a year."""
    first = part["captured_at"].min()
    return bool(first.month == 1 and first.day == 1)


def _in_order(part: pd.DataFrame, main: pd.DataFrame, side: str) -> bool:
    """Whether the body took frames on the trip too, and its counters do not speak against the dates."""
    counters, of_main = part["counter"].dropna().astype(int), main["counter"].dropna().astype(int)
    if not len(of_main) or len(counters) < len(part):
        return False
    start = _first(of_main)
    if ((counters - start) % COUNTERS <= ((of_main - start) % COUNTERS).max()).any():
        return False
    ahead = of_main.iloc[0] - counters.iloc[-1] if side == "before" else counters.iloc[0] - of_main.iloc[-1]
    return bool(0 < ahead % COUNTERS < FORWARD)


def _first(counters: pd.Series) -> int:
    """The number that a run began with, though it may have started again on the way: after the widest gap."""
    numbers = np.unique(counters)
    gaps = np.diff(np.append(numbers, numbers[0] + COUNTERS))
    return int(numbers[(int(np.argmax(gaps)) + 1) % len(numbers)])
