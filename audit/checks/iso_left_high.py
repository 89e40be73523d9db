"""A trial at high ISO finds the long exposure quickly, and then the ISO is forgotten up there.

The long frame comes out brighter by exactly the stops the ISO was raised: at the ISO of the frames before
the trial it would have been right.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import log2

import pandas as pd

from audit.checks._words import stops
from audit.finding import Finding
from audit.message.text import marked, say

ID = "iso-left-high"
TITLE = "ISO left high after the trial frame"
THRESHOLD = (
    "frames after a trial with its ISO, four times that of the frames before it or more, that are brighter "
    "than the trial by the raise of ISO within 1 stop; within one setup and rig"
)
SOURCE = "trial at high ISO before a long exposure: common practice, no source"
ADVICE = "Look at the frame: is it overexposed? Set the ISO back after a trial, and take the frame again."
NEEDS = ("setup", "iso", "ev100", "sequence")
RAISED, SAME_STOPS = 4.0, 1.0
USED = ("frame", "setup", "rig", "iso", "ev100", "captured_at", "counter")


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    known = frames["setup"].notna() & frames["iso"].notna() & frames["ev100"].notna()
    order = frames.loc[known, [*USED]].sort_values(["captured_at", "counter", "frame"], kind="stable")
    iso = order.groupby("setup")["iso"]
    order = order[iso.transform("max") >= RAISED * iso.transform("min")]
    for _, part in order.groupby("setup", sort=True):
        found = list(_left(part))
        for trial in dict.fromkeys(trial for trial, _, _ in found):
            rows = [(name, usual) for of, name, usual in found if of == trial]
            yield _finding(part[part["frame"] == trial].iloc[0], [name for name, _ in rows], rows[0][1])


def _left(part: pd.DataFrame) -> Iterator[tuple[str, str, float]]:
    """(trial, frame, ISO before the trial) of each frame left at the trial's ISO."""
    usual, trial = float("nan"), None
    rigs = part["rig"].fillna("").tolist()
    rows = zip(part["frame"], part["iso"], part["ev100"], rigs, strict=True)
    for frame, iso, ev, rig in rows:
        if iso < RAISED * usual or pd.isna(usual):
            usual, trial = iso, None
        elif trial is None or trial[1:3] != (iso, rig):
            trial = (frame, iso, rig, ev)
        elif abs(trial[3] - ev - log2(iso / usual)) <= SAME_STOPS:
            yield trial[0], frame, usual


def _finding(trial: pd.Series, rows: list[str], usual: float) -> Finding:
    return Finding(
        ID,
        "look",
        tuple(rows),
        seen=say(
            "ISO {iso:.0f}, as the trial {trial_frame} before", iso=trial["iso"], trial_frame=trial["frame"]
        ),
        expected=say("ISO {iso:.0f}, as the frames before the trial", iso=usual),
        sure=marked("as written in EXIF"),
        advice=ADVICE,
        by=say("{size} brighter than the trial found right", size=stops(log2(trial["iso"] / usual))),
    )
