"""Through ten stops the picture gets a thousandth of the light; a gap behind the filter gets all of it.

Over minutes light creeps in between filter and holder, and on a body with an optical viewfinder through the
eyepiece: bright streaks or a veil across the frame.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import body_words, names
from audit.finding import Finding
from audit.message.figures import duration
from audit.message.text import joined, marked, say

ID = "light-leak"
TITLE = "Light may have leaked in"
THRESHOLD = (
    "1 min or longer through 6 stops or more, in a slot and without a gasket in the kit, or on a body whose "
    "viewfinder the kit calls optical without the eyepiece declared covered; silent with the sun 6 degrees "
    "or more below the horizon"
)
SOURCE = "common practice, no source: advice, not a fault that was seen"
ADVICE = (
    "Look for streaks and a pale veil. Put a filter with a gasket into the back slot and cover the eyepiece, "
    "and declare it (eyepiece_covered = true). Never look at the sun through an optical viewfinder: no "
    "photographic filter protects the eye."
)
NEEDS = ("exposure_time_s", "neutral_stops", "ungasketed", "viewfinder", "eyepiece_covered")
LONG_S, STRONG_STOPS, DARK_DEG = 60.0, 6.0, -6.0


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    dark = frames["sun_altitude_deg"] <= DARK_DEG
    strong = (frames["exposure_time_s"] >= LONG_S) & (frames["neutral_stops"] >= STRONG_STOPS)
    long = frames[strong & ~dark]
    gaps = long.assign(what=long["ungasketed"].map(", ".join))
    for what, part in gaps[gaps["what"] != ""].groupby("what", sort=True):
        yield _finding(
            part,
            say("no gasket on {filter_name} in the kit", filter_name=what),
            marked("a gasket on the strong filter"),
        )
    covered = long["eyepiece_covered"].fillna(False).astype(bool)
    for body, part in long[(long["viewfinder"] == "optical") & ~covered].groupby("body", sort=True):
        yield _finding(
            part,
            marked("eyepiece not declared covered"),
            marked("the eyepiece covered"),
            say("{body}, optical viewfinder", body=body_words(body)),
        )


def _finding(part: pd.DataFrame, seen: str, expected: str, cause: str = "") -> Finding:
    return Finding(
        ID,
        "note",
        names(part),
        seen=joined([seen, say("up to {longest}", longest=duration(part["exposure_time_s"].max()))], ", "),
        expected=expected,
        sure=marked("declared; no leak was measured"),
        advice=ADVICE,
        cause=cause or str(part["rig_words"].iloc[0]),
    )
