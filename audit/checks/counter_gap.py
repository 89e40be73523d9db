"""The camera numbers its frames without a gap; a gap means frames deleted, or lost on the way.

The counter runs from 0001 to 9999 and on to 0001 (DCF); a wrap or a new folder is not a gap.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import few
from audit.model.finding import Finding

ID = "counter-gap"
TITLE = "Gaps in the frame numbers"
THRESHOLD = "1 to 200 numbers missing between two consecutive frames of a body on one day"
SOURCE = "file numbers 0001 to 9999: DCF 2.0 (JEITA CP-3461)"
ADVICE = "If you did not delete them in the camera, look for them on the card before it is formatted."
NEEDS = ("counter", "captured_at", "body")
LAST = 9999
MOST = 200


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    counted = frames.dropna(subset=["counter", "captured_at", "body"])
    order = counted.sort_values(["body", "captured_at", "counter"], kind="stable")
    for body, run in order.groupby("body", sort=True):
        before = run.shift()
        missing = (run["counter"] - before["counter"] - 1) % LAST
        same_day = run["captured_at"].dt.normalize() == before["captured_at"].dt.normalize()
        gaps = run.assign(missing=missing, before=before["frame"])[same_day & missing.between(1, MOST)]
        if len(gaps):
            lost = int(gaps["missing"].sum())
            borders = [f"{int(g.missing)} between {g.before} and {g.frame}" for g in gaps.itertuples()]
            yield Finding(
                ID,
                "note",
                tuple(gaps["frame"]),
                seen=few(borders),
                expected="numbers without a gap",
                sure="as written in the file names",
                advice=ADVICE,
                by=f"{lost} number{'s' if lost != 1 else ''}",
                cause=f"body {body}",
            )
