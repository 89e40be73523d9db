"""Frames of an earlier trip that were left on the card are no part of this one.

They stay in the table, and are kept out of setups, of questions and of the proposals for prints.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import days, names
from audit.finding import Finding
from audit.message.text import marked, plural, say

ID = "other-trip"
TITLE = "Frames of another trip"
THRESHOLD = (
    "two weeks or more without a frame between them and the trip, which holds three quarters of the frames "
    "or more; never a body that took no other frames, nor frames whose numbers contradict their dates"
)
SOURCE = "common practice, no source"
ADVICE = (
    "Nothing, if they were left on the card; if they are of this trip, the clock was wrong: clock_ahead_s."
)
NEEDS = ("captured_at", "other_trip")


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    others = frames[frames["other_trip"].notna()]
    if not len(others):
        return
    trip = frames[frames["other_trip"].isna()]["captured_at"].dropna()
    yield Finding(
        ID,
        "note",
        names(others),
        seen=plural(
            len(others),
            "{n} frame of {days}",
            "{n} frames of {days}",
            days=days(others["captured_at"]),
        ),
        expected=say("a trip of {days}", days=days(trip)),
        sure=marked("as written in EXIF"),
        advice=ADVICE,
        cause=marked("left on the card"),
    )
