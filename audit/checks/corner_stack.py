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
    "beyond what 99 % of sets of as many photographs without any rig show, and beyond what the lens itself "
    "may show at that f-number; near-identical frames are one composition. Look where the corners were "
    "predicted clear, note where the prediction says the same"
)
SOURCE = (
    "thresholds from 21 open photographs from the ground, tried on 20 others and on 45 from the air, and on "
    "simulated scenes; a lens' own fall-off is taken to be 1 stop from f/8 on and up to 3 stops wide open "
    "(common practice, no source), of which a quarter shows here. See docs/pixels.md"
)
ADVICE = (
    "Look at the corners of these frames at full size. One frame with and one without the rig settles it."
)
NEEDS = ("stack", "stack_count", "stack_loss_stops", "stack_threshold_stops", "corner_verdict", "f_number")


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
                "over {count} compositions, the corners are {loss} darker than what lies beside them",
                count=first["stack_count"],
                loss=stops(loss),
            ),
            expected=say(
                "less than {least}, which chance and the lens itself may make at f/{f_number:.2g}",
                least=stops(least),
                f_number=first["f_number_exact"] if pd.isna(first["f_number"]) else first["f_number"],
            ),
            sure=say(
                "measured over the compositions together, not in one of them; {power}",
                power=first["stack_words"],
            ),
            advice=ADVICE,
            by=stops(loss),
            cause=marked("declared bare") if first["declaration"] == "bare" else str(first["mount_words"]),
        )
