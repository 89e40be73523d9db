"""Beyond 30 s nobody meters: the time is computed from the frame without filters, or guessed.

A table misread, a stop forgotten or a remote released late shows against the arithmetic. Falling light is
given its part, since at dusk a longer time than the sum is right.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._elsewhere import off_declared
from audit.checks._words import durations, names, stops
from audit.finding import Finding
from audit.message.text import say

ID = "bulb-time"
TITLE = "Long exposure off the sum of its filters"
THRESHOLD = (
    "longer than 30 s through 6 stops or more, and off every reading of the filter's mark by 1 stop where "
    "the pictures show it, 1.5 stops where there are none, beyond 0.1 stop (or the slope expected of the "
    "sky) for each minute between the two exposures; silent where the picture came out as bright as the one "
    "without filters, and where exposure-sum says that another filter was on"
)
SOURCE = (
    "time x 2^stops; density 0.3 is 0.997 stops (definition of optical density); what counts as off: chosen "
    "on simulated trips (docs/world.md); drift of daylight: common practice, no source"
)
ADVICE = "Look at the histogram. Next time take the time from the sum, and at dusk add what the light loses."
NEEDS = ("arithmetic_words", "arithmetic_off_stops", "reference_minutes", "exposure_time_s")
SHOWN_STOPS, UNSHOWN_STOPS, DRIFT_STOPS_PER_MIN = 1.0, 1.5, 0.1
"""Clouds come and go between the two exposures, and who looks at the picture mends the time."""


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    reckoned = frames["arithmetic_off_stops"].notna() & frames["unit_slip"].isna()
    reckoned &= (frames["strength_verdict"] != "off") & ~off_declared(frames)
    part = frames[reckoned]
    slope = part["sky_slope_stops_per_min"].abs().fillna(0.0).clip(lower=DRIFT_STOPS_PER_MIN)
    size, shown = part["arithmetic_off_stops"].abs(), _shown_stops(frames, part)
    limit = pd.Series(UNSHOWN_STOPS, index=part.index).where(shown.isna(), SHOWN_STOPS)
    part = part.assign(
        size=size, room=limit + slope * part["reference_minutes"], long=part["arithmetic_off_stops"] > 0
    )
    # As bright as without filters: then the time was right, and the light or the filter another.
    off = part[(size > part["room"]) & ~(shown < size / 2)]
    for (_, _, long), some in off.groupby(["scene", "rig", "long"], sort=True, dropna=False):
        yield _finding(some, bool(long))


def _shown_stops(frames: pd.DataFrame, part: pd.DataFrame) -> pd.Series:
    """How far the picture came out brighter or darker than without filters, the way the time is off.

    By the two pictures laid on each other where that could be done, else by how bright each is as a whole.
    """
    bright = frames.set_index("frame")["picture_stops"]
    apart = part["picture_stops"] - part["reference_frame"].map(bright).astype("float64")
    apart = apart.where(part["arithmetic_off_stops"] > 0, -apart)
    shown: pd.Series = part["pair_stops"].abs().where(part["pair_stops"].notna(), apart)
    return shown


def _finding(part: pd.DataFrame, long: bool) -> Finding:
    first, times, size = part.iloc[0], durations(part["exposure_time_s"]), stops(float(part["size"].median()))
    return Finding(
        ID,
        "look",
        names(part),
        seen=say("{times}, {size} too long", times=times, size=size)
        if long
        else say("{times}, {size} too short", times=times, size=size),
        expected=str(first["arithmetic_words"]),
        sure=say(
            "times as written, from {reference_frame}, {minutes:.0f} min apart",
            reference_frame=first["reference_frame"],
            minutes=first["reference_minutes"],
        ),
        advice=ADVICE,
        by=say("{size}; up to {explained} is normal", size=size, explained=stops(float(first["room"]))),
        cause=str(first["rig_words"]),
    )
