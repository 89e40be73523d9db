"""Beyond 30 s nobody meters: the time is reckoned from the frame without filters, or guessed.

A table misread, a stop forgotten or a remote released late shows against the arithmetic. Falling light is
given its part, since at dusk a longer time than the sum is right.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import durations, names, stops
from audit.finding import Finding
from audit.message.text import say

ID = "bulb-time"
TITLE = "Long exposure against the arithmetic"
THRESHOLD = (
    "longer than 30 s through 6 stops or more, and 0.75 stop off every reading of the filter's mark, beyond "
    "0.1 stop (or the slope expected of the sky) for each minute between the two exposures; silent where the "
    "picture came out as bright as the one without filters"
)
SOURCE = (
    "time x 2^stops; density 0.3 is 0.997 stops (definition of optical density); what counts as off, drift "
    "of daylight: common practice, no source"
)
ADVICE = "Look at the histogram. Next time take the time from the sum, and at dusk add what the light loses."
NEEDS = ("arithmetic_words", "arithmetic_off_stops", "reference_minutes", "exposure_time_s")
OFF_STOPS, DRIFT_STOPS_PER_MIN = 0.75, 0.1


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    reckoned = frames[frames["arithmetic_off_stops"].notna() & frames["unit_slip"].isna()]
    reckoned = reckoned[reckoned["strength_verdict"] != "off"]
    slope = reckoned["sky_slope_stops_per_min"].abs().fillna(0.0).clip(lower=DRIFT_STOPS_PER_MIN)
    size = reckoned["arithmetic_off_stops"].abs()
    reckoned = reckoned.assign(
        size=size, drift=slope * reckoned["reference_minutes"], long=reckoned["arithmetic_off_stops"] > 0
    )
    # As bright as without filters: then the time was right, and another filter was on.
    bright = reckoned["pair_stops"].abs() < size / 2
    off = reckoned[(size > OFF_STOPS + reckoned["drift"]) & ~bright]
    for (_, _, long), part in off.groupby(["scene", "rig", "long"], sort=True, dropna=False):
        yield _finding(part, bool(long))


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
        by=say(
            "{size}; {explained} can be explained", size=size, explained=stops(OFF_STOPS + first["drift"])
        ),
        cause=str(first["rig_words"]),
    )
