"""Many different pictures taken with one rig show together what no single one can.

A dark corner in one landscape is a rock or a cloud. That the same corners are darker than their surroundings
in a dozen compositions is the ring, the holder, or a hood.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names, stops
from audit.finding import Finding
from audit.message.text import marked, say

ID = "corner-stack"
TITLE = "Corners dark in many pictures"
THRESHOLD = (
    "median over the different compositions and all corners of corner less both edges plus inner field, "
    "beyond what 99 % of sets of as many photographs without any rig show; look where the corners were "
    "predicted clear, or nothing was declared on, note where the prediction says the same"
)
SOURCE = (
    "thresholds from 21 open photographs from the ground, tried on 20 others and on 45 from the air, and on "
    "simulated scenes; a lens' own falloff of a stop, at a wide aperture, reads 0.2 stop. See docs/pixels.md"
)
ADVICE = (
    "Look at the corners of these frames at full size. One frame with and one without the rig settles it."
)
NEEDS = ("stack", "stack_count", "stack_loss_stops", "stack_threshold_stops", "corner_verdict")


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    dark = frames[frames["stack_loss_stops"] > frames["stack_threshold_stops"]]
    for _, part in dark.groupby("stack", sort=True):
        first = part.iloc[0]
        loss, least = float(first["stack_loss_stops"]), float(first["stack_threshold_stops"])
        clear = (part["corner_verdict"] == "clear").any()
        yield Finding(
            ID,
            "look" if clear else "note",
            names(part),
            seen=say(
                "corners {loss} darker than their surroundings, in {pictures}",
                loss=stops(loss),
                pictures=first["stack_words"],
            ),
            expected=say(
                "less than {least} by chance, with {count} compositions",
                least=stops(least),
                count=first["stack_count"],
            ),
            sure=marked("measured over the compositions together, not in one of them"),
            advice=ADVICE,
            by=stops(loss),
            cause=marked("declared bare") if first["declaration"] == "bare" else str(first["mount_words"]),
        )
