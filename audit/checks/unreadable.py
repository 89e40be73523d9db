"""A file that cannot be read may be the first sign of a failing card, or of a copy that broke off.

As long as the card is not formatted, the picture can often be copied again.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names
from audit.finding import Finding
from audit.message.text import marked

ID = "unreadable"
TITLE = "Files that could not be read"
THRESHOLD = "any picture file whose EXIF could not be read"
SOURCE = "the reader's own reason"
ADVICE = "Copy the file from the card again, and do not format the card before it opens."
NEEDS = ("problem",)


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    for problem, part in frames[frames["problem"].notna()].groupby("problem", sort=True):
        yield Finding(
            ID,
            "act",
            names(part),
            seen=str(problem),
            expected=marked("a picture file with EXIF"),
            sure=marked("measured"),
            advice=ADVICE,
        )
