"""Without a true time a frame cannot be joined to a time span, nor set beside its neighbours.

A camera whose clock battery ran out starts again at a date years before the trip.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import cast

import pandas as pd

from audit.checks._words import names
from audit.finding import Finding
from audit.message.text import day, marked, say

ID = "time-missing"
TITLE = "No time, or a time far from the trip's"
THRESHOLD = "no time; or, for a fifth of the frames at most, over a year from the middle of the dump's"
SOURCE = "common practice, no source"
ADVICE = (
    "Set the clock. Declare these frames by file names; a known offset of the clock goes into kit.toml "
    "(clock_ahead_s)."
)
NEEDS = ("captured_at", "other_trip")
MAY_LACK = ("captured_at",)
FAR, MOST_FAR = pd.Timedelta(days=366), 0.2


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    readable = frames[frames["problem"].isna() & frames["other_trip"].isna()]
    # The stubs know quantiles of numbers only.
    middle = cast("pd.Timestamp", readable["captured_at"].quantile(0.5, interpolation="lower"))
    far = readable[(readable["captured_at"] - middle).abs() > FAR]
    cases = {
        marked("no time in the file"): readable[readable["captured_at"].isna()],
        # An archive of several years has no middle to speak of.
        marked("clock set to another year"): far if len(far) <= MOST_FAR * len(readable) else far.iloc[:0],
    }
    for cause, part in cases.items():
        if len(part):
            times = part["captured_at"].dropna()
            yield Finding(
                ID,
                "look",
                names(part),
                seen=say("{first} to {last}", first=day(times.min()), last=day(times.max()))
                if len(times)
                else marked("no usable time"),
                expected=say("about {day}", day=day(middle))
                if pd.notna(middle)
                else marked("the time of capture"),
                sure=marked("as written in EXIF"),
                advice=ADVICE,
                cause=cause,
            )
