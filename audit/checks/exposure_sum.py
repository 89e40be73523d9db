"""Frames of one scene must agree on its light, whatever filters they wore.

Exposure and declared filters together say how bright the scene was. When a filter was declared but not
on, or was on and not declared, the frames around it disagree by its stops.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names, stops
from audit.finding import Finding
from audit.message.text import joined, marked, say

ID = "exposure-sum"
TITLE = "Exposure does not fit the declared filters"
THRESHOLD = (
    "1 stop, and 0.1 stop for each minute to the frame it is compared with, beyond the declared range "
    "(polariser 1 to 2 stops, a grad 0 to its stops); act from 1 stop beyond that"
)
SOURCE = "spread of metering and drift of daylight: common practice, no source"
ADVICE = (
    "Compare the frames: was the filter really in, or forgotten in the holder? Correct the declaration, or "
    "mark the frames as unknown."
)
NEEDS = ("scene", "light_residual_stops", "light_tolerance_stops", "unit_slip", "strength_verdict")


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    beyond = frames["light_residual_stops"].abs() - frames["light_tolerance_stops"]
    # Where the pictures themselves tell the strength, they are the better witness.
    told = frames["unit_slip"].notna() | frames["strength_verdict"].notna()
    off = frames[(beyond > 0) & ~told].assign(beyond=beyond, over=frames["light_residual_stops"] > 0)
    for (_, _, over), part in off.groupby(["scene", "rig", "over"], sort=True):
        first = part.iloc[0]
        size = stops(abs(float(part["light_residual_stops"].median())))
        yield Finding(
            ID,
            "act" if part["beyond"].max() >= 1 else "look",
            names(part),
            seen=say("a scene {size} brighter than the frames beside it say", size=size)
            if over
            else say("a scene {size} darker than the frames beside it say", size=size),
            expected=say(
                "declared {sum}; scene at EV100 {light:.1f}",
                sum=first["stops_words"],
                light=first["scene_light_ev100"],
            ),
            sure=marked("declared filters against exposures as written"),
            advice=ADVICE,
            by=say(
                "{size}; {explained} can be explained",
                size=size,
                explained=stops(float(first["light_tolerance_stops"])),
            ),
            cause=joined(
                [
                    str(first["rig_words"]),
                    marked("less was on than declared") if over else marked("more was on than declared"),
                ],
                ": ",
            ),
        )
