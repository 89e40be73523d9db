"""The corners that the pictures show contradict the rig that was declared.

Compared with a frame without the rig, a picture shows within a tenth of a stop what its corners lack. Where
that is not what the declared rig would have done, something else was in front of the lens, or nothing.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names
from audit.finding import Finding
from audit.message.figures import plus_minus
from audit.message.text import marked, say

ID = "corners-shown"
TITLE = "Corners contradict the declaration"
THRESHOLD = (
    "the measured loss (mean of the four corners, with its 95 % range) lies 0.15 stop or more outside the "
    "predicted band; or a frame declared bare has darker corners than another one. Act from 0.5 stop lost"
)
SOURCE = (
    "log ratio of two pictures, corners less middle; least loss shown: 0.04 stop where the two are exposed "
    "within 0.45 stop of each other, 0.17 within 1.25 (99 % of bracket pairs of real cameras without any rig)"
)
ADVICE = (
    "Open both frames and look at the corners. Correct the declaration if another rig was on; if it was on, "
    "`cornerstop calibrate` measures the lens."
)
NEEDS = ("contradiction", "shown_loss_stops", "shown_loss_err_stops", "pair_with")
SPOILT_STOPS = 0.5


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    told = frames[frames["contradiction"].notna()]
    for (_, _, declaration), part in told.groupby(["scene", "rig", "declaration"], sort=True):
        worst = part.iloc[part["shown_loss_stops"].argmax()]
        low, high = worst["shown_predicted_min_stops"], worst["shown_predicted_max_stops"]
        shown = max(worst["shown_loss_stops"], 0.0)
        off = shown if declaration == "bare" else max(low - shown, shown - high)
        yield Finding(
            ID,
            "act" if worst["shown_loss_stops"] >= SPOILT_STOPS else "look",
            names(part),
            seen=str(worst["contradiction"]),
            expected=marked("no difference between two bare frames")
            if declaration == "bare"
            else say("{low:.1f} to {high:.1f} stops over the same corners, predicted", low=low, high=high),
            sure=marked("measured, mean of the four corners"),
            advice=ADVICE,
            by=say("{amount} stops", amount=plus_minus(off, worst["shown_loss_err_stops"], 2)),
            cause=marked("declared bare") if declaration == "bare" else str(worst["mount_words"]),
        )
