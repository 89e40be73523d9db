"""Some exposures cannot have been made through the filters declared: no landscape is that bright.

Ten stops at 1/250 s and f/8 would need a scene a thousand times brighter than sunlit snow. The filter was
not on, or it is another one.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names, span
from audit.finding import Finding
from audit.message.text import marked, say

ID = "too-bright"
TITLE = "Declared filter too strong for any daylight"
THRESHOLD = (
    "light implied by exposure and declared filters above EV100 17; silent where the pictures themselves "
    "tell the filter's strength"
)
SOURCE = (
    "light sand or snow in full sun is EV100 16 (exposure value tables after ANSI PH2.7-1986, from memory); "
    "one stop allowed for a dark exposure"
)
ADVICE = "Correct the declaration of these frames: they were taken without this filter, or with a weaker one."
NEEDS = ("light_min_ev100", "rig", "rig_words", "strength_verdict")
BRIGHTEST_EV100 = 17.0


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    bright = frames[(frames["light_min_ev100"] > BRIGHTEST_EV100) & (frames["declaration"] == "worn")]
    bright = bright[bright["strength_verdict"].isna()]  # a dark picture, not a filter that was not on
    for _, part in bright.groupby("rig", sort=True):
        yield Finding(
            ID,
            "act",
            names(part),
            seen=say("a scene of EV100 {light} would be needed", light=span(part["light_min_ev100"])),
            expected=say("at most EV100 {light:g}", light=BRIGHTEST_EV100),
            sure=marked("declared filters against exposures as written"),
            advice=ADVICE,
            by=say("{size:.1f} stops", size=part["light_min_ev100"].max() - BRIGHTEST_EV100),
            cause=say("{rig}, as declared", rig=part["rig_words"].iloc[0]),
        )
