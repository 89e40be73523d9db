"""Parts of the JPEG are white without detail: the sky for which the grad was carried.

The raw file may hold more than its JPEG; how much cannot be told from the JPEG, so nothing is said of it.
Members of a bracket are left out: their bright end is meant to clip.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names, whole
from audit.finding import Finding
from audit.message.text import marked, say

ID = "jpeg-clipped"
TITLE = "JPEG clipped"
THRESHOLD = (
    "a tenth of the pixels in one third of the picture (top, middle, bottom) has 254 or 255 in a channel; "
    "black: a quarter of a third has 0 or 1 in every channel (common practice, no source)"
)
SOURCE = "counted in the picture's own pixels, or in a smaller copy of it, which hides some: at least so much"
ADVICE = "Look at the raw file, if there is one; next time a stronger grad, or a bracket."
NEEDS = (
    "clipped_top",
    "clipped_middle",
    "clipped_bottom",
    "black_top",
    "black_middle",
    "black_bottom",
    "bracket",
)
LEAST = {"clipped": 0.10, "black": 0.25}
SEEN = {
    ("clipped", "top"): marked("JPEG clipped: {share} % of the top third"),
    ("clipped", "middle"): marked("JPEG clipped: {share} % of the middle third"),
    ("clipped", "bottom"): marked("JPEG clipped: {share} % of the bottom third"),
    ("black", "top"): marked("JPEG black: {share} % of the top third"),
    ("black", "middle"): marked("JPEG black: {share} % of the middle third"),
    ("black", "bottom"): marked("JPEG black: {share} % of the bottom third"),
}
THIRDS = {
    "top": marked("top third of the picture"),
    "middle": marked("middle third of the picture"),
    "bottom": marked("bottom third of the picture"),
}


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    single = frames[frames["bracket"].isna()]
    for kind, least in LEAST.items():
        for third in THIRDS:
            column = f"{kind}_{third}"
            part = single[single[column] >= least]
            if len(part):
                yield _finding(kind, third, part, 100 * part[column])


def _finding(kind: str, third: str, part: pd.DataFrame, percent: pd.Series) -> Finding:
    share = whole(percent)
    if (part["clipping_basis"] == "reduced").any():
        share = say("at least {share}", share=share)
    return Finding(
        ID,
        "note",
        names(part),
        seen=say(SEEN[kind, third], share=share),
        expected=say("less than {share:.0f} %", share=100 * LEAST[kind]),
        sure=marked("measured in the JPEG, which says nothing of the raw file"),
        advice=ADVICE,
        cause=THIRDS[third],
    )
