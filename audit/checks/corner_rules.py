"""Photographers judge wide lenses by rules of thumb: a recessed ring below 24 mm, no second holder below 28.

They are quick and mostly cautious, but they know neither thread, f-number nor pupil. Where they and the
computed verdict disagree, one of them is wrong for this lens, and a single test frame settles it.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names, span
from audit.finding import Finding
from audit.message.text import marked, say

ID = "corner-rules"
TITLE = "Rule of thumb against the computed corner"
THRESHOLD = "fine against at risk or cut, doubtful against clear or cut, not fine against clear or at risk"
SOURCE = "rules of thumb: common practice, no source"
ADVICE = "Photograph an even sky once with this rig, focal length and f/11: the corners tell which is right."
NEEDS = ("corner_verdict", "rule_verdict", "rule_words", "mount_words", "focal_length_mm")
SAME = {
    marked("fine"): marked("clear"),
    marked("doubtful"): marked("at risk"),
    marked("not fine"): marked("cut"),
}


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    judged = frames[
        frames["rule_verdict"].isin(list(SAME)) & frames["corner_verdict"].isin(list(SAME.values()))
    ]
    differ = judged[judged["rule_verdict"].map(SAME) != judged["corner_verdict"]]
    keys = ["mount_words", "rule_verdict", "corner_verdict", "rule_words"]
    for (_, rule, verdict, _), part in differ.groupby(keys, sort=True):
        mount, words = part["mount_words"].iloc[0], part["rule_words"].iloc[0]
        yield Finding(
            ID,
            "note",
            names(part),
            seen=say("computed: {verdict}", verdict=verdict),
            expected=say("rule of thumb: {verdict} ({rule})", verdict=rule, rule=words),
            sure=marked("predicted"),
            advice=ADVICE,
            cause=say(
                "{mount} at {focal_length}", mount=mount, focal_length=span(part["focal_length_mm"], "mm")
            ),
        )
