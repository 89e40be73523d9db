"""Cameras and programs sometimes write values that cannot be: f/0, a time of zero, a date of zeros.

They are kept out of every sum, so the frame is judged by less. A lens without contacts writes them on
purpose: the kit can fill them.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names
from audit.model.finding import Finding

ID = "impossible-values"
TITLE = "Values that were left out or corrected"
THRESHOLD = "any value that the reader set to null or corrected"
SOURCE = "Exif 2.32 (CIPA DC-008): tag definitions; the reader's own reason"
ADVICE = (
    "Nothing to mend in the pictures. A lens without contacts belongs into kit.toml with no_contacts = true."
)
NEEDS = ("notes",)


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    told = frames[["frame", "notes"]].explode("notes").dropna(subset="notes")
    for note, part in told.groupby("notes", sort=True):
        yield Finding(
            ID,
            "note",
            names(part),
            seen=str(note),
            expected="a value that can be",
            sure="as written in EXIF",
            advice=ADVICE,
            cause=str(note),
        )
