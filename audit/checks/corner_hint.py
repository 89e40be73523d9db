"""One picture alone can only hint at dark corners: forests, rocks and night skies have them too.

The hint is worth a look where nothing was declared. It never says that a corner was cut.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names
from audit.model.finding import Finding

ID = "corner-hint"
TITLE = "Hint of dark corners in single frames"
THRESHOLD = (
    "all four corners darker than the field beside them by more than 99 % of unfiltered photographs show"
)
SOURCE = "measured on open photographs and simulated scenes; see docs/pixels.md"
ADVICE = (
    "Open a frame and look at its corners. A hint is no measurement: of 100 such frames without rig 1 has it."
)
NEEDS = ("corner_hint", "focal_length_mm", "declaration")


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    # What the prediction or a pair of frames already says needs no hint.
    told = frames["corner_verdict"].isin(["cut", "at risk"]) | frames["shown_loss_stops"].notna()
    hinted = frames[frames["corner_hint"].notna() & ~told]
    for (_, _), part in hinted.groupby(["lens", "focal_length_mm"], sort=True, dropna=False):
        yield Finding(
            ID,
            "note",
            names(part),
            seen=str(part["corner_hint"].iloc[0]),
            expected="corners like the field beside them",
            sure="a hint from single pictures",
            advice=ADVICE,
        )
