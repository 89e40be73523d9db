"""A frame without a declaration cannot be checked, and tomorrow nobody remembers what was on.

Bare is a statement too, and so is unknown; silence is neither.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names
from audit.model.finding import Finding

ID = "undeclared"
TITLE = "Frames without a declaration"
THRESHOLD = "any frame that no span covers, in a dump that holds declarations"
SOURCE = "the declarations themselves"
ADVICE = 'Add a [[worn]] span to the folder\'s filters.toml: the rig, "bare = true" or "unknown = true".'
NEEDS = ("declaration", "undeclared_reason", "folder")


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    left_out = frames[(frames["declaration"] == "undeclared") & frames["problem"].isna()]
    whole_dump = bool((frames["declaration"] == "undeclared").all())
    for (folder, reason), part in left_out.groupby(["folder", "undeclared_reason"], sort=True):
        yield Finding(
            ID,
            "note" if whole_dump else "look",
            names(part),
            seen=str(reason),
            expected="one span for each frame",
            sure="declared",
            advice=ADVICE,
            cause=f"folder {folder}",
        )
