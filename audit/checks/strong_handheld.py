"""Behind a strong filter a handheld frame gets a time too long to hold still.

Between the reciprocal of the focal length and about a second, shake looks like a soft lens; whether the
camera stood on a tripod the file does not say.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from audit.checks._words import durations, names, span
from audit.finding import Finding
from audit.message.text import marked, say

ID = "strong-handheld"
TITLE = "Strong filter in a frame that may be hand held"
THRESHOLD = (
    "6 stops or more, longer than 1 / focal length (35 mm equivalent) and up to 1 s; silent where something "
    "tells of a tripod: a bracket or another sequence, flash, a second frame that lies exactly over it, or "
    "a time above 1 s in the same setup"
)
SOURCE = "common practice, no source"
ADVICE = "If it was hand held, look at it at full size; if it stood on a tripod, all is well."
NEEDS = ("neutral_stops", "exposure_time_s", "focal_length_mm", "setup")
STRONG_STOPS, LONGEST_S, DIAGONAL_MM = 6.0, 1.0, 43.267


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    time_s, flash = frames["exposure_time_s"], frames["flash_fired"].fillna(False).astype(bool)
    standing = frames["bracket"].notna() | frames["sequence"].notna() | frames["pair_stops"].notna() | flash
    standing |= frames.groupby("setup")["exposure_time_s"].transform("max") > LONGEST_S
    equivalent = _equivalent_mm(frames)
    slow = (frames["neutral_stops"] >= STRONG_STOPS) & (time_s > 1 / equivalent) & (time_s <= LONGEST_S)
    for _, part in frames.assign(equivalent=equivalent)[slow & ~standing].groupby("rig", sort=True):
        yield Finding(
            ID,
            "note",
            names(part),
            seen=say(
                "{times} at {focal_length}",
                times=durations(part["exposure_time_s"]),
                focal_length=span(part["focal_length_mm"], "mm"),
            ),
            expected=say(
                "1/{divisor:.0f} s or shorter by hand, or a tripod", divisor=part["equivalent"].max()
            ),
            sure=marked("as written in EXIF; a tripod cannot be seen in a file"),
            advice=ADVICE,
            cause=part["rig_words"].iloc[0],
        )


def _equivalent_mm(frames: pd.DataFrame) -> pd.Series:
    """35 mm equivalent focal length from the sensor, or as written."""
    diagonal = np.hypot(frames["sensor_width_mm"], frames["sensor_height_mm"])
    own: pd.Series = frames["focal_length_mm"] * DIAGONAL_MM / diagonal
    return own.where(own.notna(), frames["focal_length_35mm"])
