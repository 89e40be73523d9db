"""A ring or holder in front of a wide lens stops the light that should reach the corners.

The viewfinder at full aperture hides it, and a corner that is black at f/11 cannot be lifted later. The
loss follows from the geometry alone: how deep the entrance pupil lies behind the filter thread, how far
before it the opening sits and how wide it is. The depth of the pupil is rarely known, so the answer is a
band, and the verdict is clear or cut only where both ends of the band agree.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import lost, names, span
from audit.model.finding import Finding

ID = "corners"
TITLE = "Corners darkened by ring or holder"
THRESHOLD = (
    "clear: less than 0.1 stop lost in the corner even with the deepest pupil of the band; "
    "cut: 0.5 stop or more even with the shallowest; at risk: all between"
)
SOURCE = (
    "closed form: overlap of two circles (MathWorld, Circle-Circle Intersection, eq. 14); its error, "
    "0.5 degrees later to 1.5 earlier, measured against ray-traced wide lenses; default dimensions: assumed"
)
ADVICE = (
    "Look at the corners of these frames at full size. A crop saves a cut corner; next time a recessed ring, "
    "one slot less, or a longer focal length does. A pupil depth in the kit narrows the band."
)
NEEDS = ("corner_verdict", "mount_words", "focal_length_mm", "corner_loss_min_stops", "corner_loss_max_stops")
LEVEL = {"cut": "act", "at risk": "look"}


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    doubtful = frames[frames["corner_verdict"].isin(list(LEVEL))]
    keys = ["corner_verdict", "mount_words", "lens", "corner_why"]
    for (verdict, mount, lens, opening), part in doubtful.groupby(keys, sort=True, dropna=False):
        low, high = part["corner_loss_min_stops"].min(), part["corner_loss_max_stops"].max()
        where = f"{span(part['focal_length_mm'], 'mm')}, f/{span(part['f_number'])}"
        assumed = sorted({words for row in part["corner_assumed"] for words in row})
        yield Finding(
            ID,
            LEVEL[verdict],
            names(part),
            seen=f"{lost(low, high)}; limited by the {opening}",
            expected="less than 0.1 stop",
            sure="predicted" + (f", assuming {'; '.join(assumed)}" if assumed else ""),
            advice=ADVICE,
            cause=f"{mount} on {lens if pd.notna(lens) else 'an unnamed lens'} at {where}: {verdict}",
        )
