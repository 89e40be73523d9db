"""What a filter does to colour shows in two pictures of one scene with the same fixed white balance.

A cast is easily taken out afterwards, if one knows it; it is told so that the same filter gets the same
correction everywhere.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names
from audit.finding import Finding
from audit.message.figures import plus_minus
from audit.message.text import marked, say

ID = "colour-cast"
TITLE = "Colour cast of a filter"
THRESHOLD = (
    "0.010 in u'v' (about 20 mired along the daylight locus); measured only where both pictures have the "
    "same fixed white balance and are exposed within half a stop of each other"
)
SOURCE = (
    "u'v': CIE 1976; 95 % of bracket pairs of real cameras without any filter stay below 0.006 to 0.009 "
    "within half a stop"
)
ADVICE = "Correct the frames of this filter alike; a preset for it saves the guessing."
NEEDS = ("cast_uv", "cast_mired", "cast_words", "rig", "rig_words")
LEAST_UV = 0.010


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    cast = frames[frames["cast_uv"] > LEAST_UV]
    for _, part in cast.groupby("rig", sort=True):
        uv, err = float(part["cast_uv"].median()), float(part["cast_err_uv"].max())
        middle = part.iloc[(part["cast_uv"] - uv).abs().argmin()]
        yield Finding(
            ID,
            "note",
            names(part),
            seen=_seen(middle["cast_words"], middle["cast_mired"]),
            expected=say("less than {limit:.3f}", limit=LEAST_UV),
            sure=marked("measured in pairs of pictures, relative to the picture without filter"),
            advice=ADVICE,
            by=say("{cast} in u'v'", cast=plus_minus(uv, err, 3)),
            cause=part["rig_words"].iloc[0],
        )


def _seen(direction: str, mired: float) -> str:
    """The direction of the cast, and how much of it lies along the daylight locus."""
    if pd.isna(mired):
        return direction
    return say(
        "{direction}, about {shift:+.0f} mired along the daylight locus", direction=direction, shift=mired
    )
