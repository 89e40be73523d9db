"""Parts of the JPEG are white without detail: the sky for which the grad was carried.

The raw file may hold more than its JPEG; how much cannot be told from the JPEG, so nothing is said of it.
Members of a bracket are left out: their bright end is meant to clip.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names
from audit.model.finding import Finding

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
WORDS = {"clipped": "JPEG clipped", "black": "JPEG black"}
THIRDS = ("top", "middle", "bottom")


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    single = frames[frames["bracket"].isna()]
    for kind, least in LEAST.items():
        for third in THIRDS:
            column = f"{kind}_{third}"
            part = single[single[column] >= least]
            if len(part):
                yield _finding(kind, third, part, 100 * part[column])


def _finding(kind: str, third: str, part: pd.DataFrame, percent: pd.Series) -> Finding:
    low, high = f"{percent.min():.0f}", f"{percent.max():.0f}"
    at_least = "at least " if (part["clipping_basis"] == "reduced").any() else ""
    return Finding(
        ID,
        "note",
        names(part),
        seen=f"{WORDS[kind]}: {at_least}{low if low == high else f'{low} to {high}'} % of the {third} third",
        expected=f"less than {100 * LEAST[kind]:.0f} %",
        sure="measured in the JPEG, which says nothing of the raw file",
        advice=ADVICE,
        cause=f"{third} third of the picture",
    )
