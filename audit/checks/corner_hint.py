"""One picture alone can only hint at dark corners: forests, rocks and night skies have them too.

The hint is worth a look where nothing was declared. It never says that a corner was cut.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names
from audit.finding import Finding
from audit.message.text import marked

ID = "corner-hint"
TITLE = "Hint of dark corners in single frames"
THRESHOLD = "the two corners that are darkened least 0.6 stop or more darker than the field beside them"
SOURCE = (
    "in 1,860 windows of 93 open photographs without any rig it shows in 0.1 %; 2 stops lost show it in 85 % "
    "of them and 1 stop in half; rule and limit were chosen on them. An earlier rule that misled in 0.5 % of "
    "these windows misled in 3 % of 335 other photographs. See docs/pixels.md"
)
ADVICE = "Open a frame and look at its corners. A hint is no measurement: a forest or a night sky has it too."
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
            expected=marked("corners like the field beside them"),
            sure=marked("a hint from single pictures"),
            advice=ADVICE,
        )
