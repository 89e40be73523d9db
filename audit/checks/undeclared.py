"""A frame without a declaration cannot be checked, and what was on is soon forgotten.

A bare lens has to be declared too, or nothing can be compared with it.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names
from audit.finding import Finding
from audit.message.text import marked, say

ID = "undeclared"
TITLE = "Frames without a declaration"
THRESHOLD = "any frame that no span covers, in a dump that holds declarations"
SOURCE = "the declarations themselves"
ADVICE = (
    'Add a [[worn]] span to the folder\'s filters.toml: the rig, bare = true, neutral = "none" (a grad or '
    "polariser may have been on), or unknown = true. `cornerstop draft` drafts spans from the exposures."
)
NEEDS = ("declaration", "undeclared_reason", "folder", "other_trip")


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    silent, of_trip = frames["declaration"] == "undeclared", frames["other_trip"].isna()
    left_out = frames[silent & of_trip & frames["problem"].isna()]
    if len(left_out) and silent.all():
        yield _finding("note", left_out, marked("no frame is declared"), marked("the whole dump"))
        return
    for (folder, _), part in left_out.groupby(["folder", "undeclared_reason"], sort=True):
        why = part["undeclared_reason"].iloc[0]
        yield _finding("look", part, why, say("folder {folder}", folder=folder))


def _finding(level: str, part: pd.DataFrame, seen: str, cause: str) -> Finding:
    return Finding(
        ID,
        level,
        names(part),
        seen=seen,
        expected=marked("one span for each frame"),
        sure=marked("declared"),
        advice=ADVICE,
        cause=cause,
    )
