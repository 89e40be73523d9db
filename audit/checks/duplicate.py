"""The same picture twice makes counts wrong, and the copy that was edited is not the one that is kept.

A second card that mirrors the first is no mistake: its frames are one frame with two copies.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePosixPath

import pandas as pd

from audit.checks._words import names
from audit.finding import Finding
from audit.message.text import marked, say

ID = "duplicate"
TITLE = "The same picture twice"
THRESHOLD = (
    "copies in a folder that does not mirror the original's (under 80 % of its frames are copied there); "
    "or two files alike in size, body, time to the sub-second and exposure (a burst of consecutive numbers "
    "without sub-seconds left out)"
)
SOURCE = "common practice, no source"
ADVICE = "Compare the two files and keep one; nothing here deletes anything."
NEEDS = ("copies", "files", "folder", "size_bytes", "captured_at", "body", "counter")
MIRROR_SHARE = 0.8
ALIKE = ["size_bytes", "body", "captured_at", "ev100", "focal_length_mm", "f_number", "iso", "formats"]


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    copied = frames[["frame", "folder", "copies"]].explode("copies").dropna(subset="copies")
    copied = copied.assign(copy_folder=[str(PurePosixPath(c).parent) for c in copied["copies"]])
    frames_in = frames["folder"].value_counts()
    for (folder, other), part in copied.groupby(["folder", "copy_folder"], sort=True):
        if len(part) < 2 or part["frame"].nunique() < MIRROR_SHARE * frames_in[str(folder)]:
            yield _finding(
                part, say("copied to {folder}", folder=other), marked("a second copy in another folder")
            )
    timed = frames[frames["problem"].isna()].dropna(subset=["captured_at", "body", "size_bytes"])
    twins = timed[timed.duplicated(ALIKE, keep=False)]
    for _, part in twins.groupby(ALIKE, sort=True, dropna=False):
        if _is_burst(part):
            continue
        yield _finding(
            part, marked("alike in size, body, time and exposure"), marked("two names for one picture")
        )


def _is_burst(part: pd.DataFrame) -> bool:
    """Whether frames of one second may be a burst: uncompressed raws are all of one size."""
    counters = sorted(part["counter"].dropna().astype(int))
    whole_second = bool((part["captured_at"].dt.microsecond == 0).all())
    return whole_second and bool(counters) and counters == list(range(counters[0], counters[0] + len(part)))


def _finding(part: pd.DataFrame, seen: str, cause: str) -> Finding:
    return Finding(
        ID,
        "note",
        names(part),
        seen=seen,
        expected=marked("each picture once"),
        sure=marked("measured"),
        advice=ADVICE,
        cause=cause,
    )
