"""Two bodies whose clocks differ are sorted wrongly, and no file says so; what both did and saw may tell.

One photographer uses two bodies at the same places and in the same light. Receivers tell the difference to
seconds; activity and light to a minute or some, where both bodies were often used side by side. Zones that
were written differently are the check clock-offset's.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import body_words, names
from audit.exposure.clocks import Told, apart
from audit.finding import Finding
from audit.message.text import marked, say

ID = "clocks-apart"
TITLE = "Clocks of two bodies seem to differ"
THRESHOLD = (
    "a difference of 30 s or more that is larger than its error, by the receivers of both or, to 99 %, "
    "by when and in what light both were used; a note where nothing can be told"
)
SOURCE = "common practice, no source; how often it is right: docs/world.md"
ADVICE = "Photograph one clock with both bodies on the next trip, then the difference is known to a second."
NEEDS = ("captured_at", "body", "ev100", "exposure_time_s", "setup", "utc_offset_min", "clock_ahead_s")
MAY_LACK = ("ev100", "exposure_time_s", "clock_ahead_s")


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    for told in apart(frames):
        part = frames[(frames["body"] == told.body) & frames["captured_at"].notna()]
        others = frames[frames["body"] == told.main]
        if told.zone_s is not None:
            continue
        if told.proposed_s is not None:
            yield _proposal(part, told, told.proposed_s)
        elif not told.sure and not (_ahead_s(part) or _ahead_s(others)):
            yield Finding(
                ID,
                "note",
                names(part),
                seen=say(
                    "whether the clocks of {body} and {other_body} agree cannot be told",
                    body=body_words(told.body),
                    other_body=body_words(told.main),
                ),
                expected=marked("enough scenes that both surely saw, or a receiver in both"),
                sure=marked("estimated from when and in what light both were used"),
                advice=ADVICE,
            )


def _proposal(part: pd.DataFrame, told: Told, ahead_s: float) -> Finding:
    words = marked("the clock of {body} is {seconds} s ahead of that of {other_body}, give or take {error} s")
    if ahead_s < 0:
        words = marked(
            "the clock of {body} is {seconds} s behind that of {other_body}, give or take {error} s"
        )
    sure = marked("estimated from when and in what light both were used")
    if told.by == "receivers":
        sure = marked("measured by the receivers of both")
    return Finding(
        ID,
        "look",
        names(part),
        seen=say(
            words,
            body=body_words(told.body),
            other_body=body_words(told.main),
            seconds=abs(round(ahead_s)),
            error=round(told.err_s),
        ),
        expected=marked("clocks that agree"),
        sure=sure,
        advice=say(
            "Compare two frames of one moment; if {other_body} is right, write clock_ahead_s = "
            '{seconds_written} below [[body]] name = "{name}" in the kit.',
            other_body=body_words(told.main),
            seconds_written=str(round(ahead_s + _ahead_s(part))),
            name=told.body,
        ),
        by=say("{seconds} s", seconds=abs(round(ahead_s))),
        cause=marked("a clock that was not set"),
    )


def _ahead_s(part: pd.DataFrame) -> float:
    """What the kit says already."""
    known = part["clock_ahead_s"].dropna()
    return float(known.iloc[0]) if len(known) else 0.0
