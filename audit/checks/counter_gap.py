"""The camera numbers its frames without a gap; a gap means frames deleted, or lost on the way.

The counter runs from 0001 to 9999 and on to 0001 (DCF); a wrap or a new folder is not a gap.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import pandas as pd

from audit.checks._words import body_words, few
from audit.finding import Finding
from audit.message.text import marked, plural, say

ID = "counter-gap"
TITLE = "Gaps in the frame numbers"
THRESHOLD = "1 to 200 numbers missing between two consecutive frames of a body on one day"
SOURCE = "file numbers 0001 to 9999: DCF 2.0 (JEITA CP-3461)"
ADVICE = "If you did not delete them in the camera, look for them on the card before it is formatted."
NEEDS = ("counter", "captured_at", "body")
LAST = 9999
MOST = 200


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    # Frames without a time cannot be put in order, yet their numbers are not lost.
    stem = frames["frame"].str.extract(r"([^/]*?)\d+[^/\d]*$")[0].fillna("")
    frames = frames[["frame", *NEEDS]].assign(stem=stem)
    present = {(s, int(n)) for s, n in zip(stem, frames["counter"], strict=True) if pd.notna(n)}
    counted = frames.dropna(subset=["counter", "captured_at", "body"])
    counted = counted[counted["counter"] <= LAST]  # longer numbers are dates and times, as phones name files
    order = counted.sort_values(["body", "captured_at", "counter"], kind="stable")
    for body, run in order.groupby("body", sort=True):
        gaps = [g for g in _gaps(run, present) if g.missing]
        if gaps:
            lost = sum(g.missing for g in gaps)
            yield Finding(
                ID,
                "note",
                tuple(g.frame for g in gaps),
                seen=few(_told(gap) for gap in gaps),
                expected=marked("numbers without a gap"),
                sure=marked("as written in the file names"),
                advice=ADVICE,
                by=plural(lost, "{count} number", "{count} numbers", count=lost),
                cause=body_words(body),
            )


class Gap(NamedTuple):
    """Numbers missing between two frames."""

    before: str
    frame: str
    missing: int


def _told(gap: Gap) -> str:
    return say(
        "{count} between {before_frame} and {next_frame}",
        count=gap.missing,
        before_frame=gap.before,
        next_frame=gap.frame,
    )


def _gaps(run: pd.DataFrame, present: set[tuple[str, int]]) -> Iterator[Gap]:
    before = run.shift()
    step = (run["counter"] - before["counter"]) % LAST
    same_day = run["captured_at"].dt.normalize() == before["captured_at"].dt.normalize()
    wide = run.assign(step=step, before=before["frame"], last=before["counter"])[
        same_day & step.between(2, MOST)
    ]
    for row in wide.itertuples():
        numbers = ((int(row.last) + i - 1) % LAST + 1 for i in range(1, int(row.step)))
        yield Gap(row.before, row.frame, sum((row.stem, n) not in present for n in numbers))
