"""Some exposures cannot have been made through the filters declared: no landscape is that bright.

Ten stops at 1/250 s and f/8 would need a scene a thousand times brighter than sunlit snow. The filter was
not on, or it is another one. Where the height of the sun is known, it says the same of dusk and dawn.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from audit.checks._words import names, span, stops
from audit.finding import Finding
from audit.message.text import marked, say

ID = "too-bright"
TITLE = "Declared filter too strong for any daylight"
THRESHOLD = (
    "light implied by exposure and declared filters above EV100 17, or 1 stop above the 95 % range of a "
    "clear sky by the height of the sun, down to 6 degrees below the horizon; silent where the pictures "
    "themselves tell the filter's strength, and where unit-slip does"
)
SOURCE = (
    "light sand or snow in full sun is EV100 16 (exposure value tables after ANSI PH2.7-1986, from memory); "
    "clear sky: see the column sky_ev100; one stop allowed for a dark exposure"
)
ADVICE = "Correct the declaration of these frames: they were taken without this filter, or with a weaker one."
NEEDS = ("light_min_ev100", "rig", "rig_words", "strength_verdict")
BRIGHTEST_EV100 = 17.0
METERED_STOPS = 1.0
LAMPS_DEG = -6.0
"""With the sun lower, lamps and the moon may light a scene (end of civil twilight)."""


def beyond(frames: pd.DataFrame) -> pd.DataFrame:
    """By how many stops each frame declared worn is brighter than any daylight: `stops`, and `by_sun`.

    0 or less, or null, for frames that are not; a dark picture is no filter that was not on.
    """
    told = frames["strength_verdict"].notna() | frames["unit_slip"].notna()
    worn = (frames["declaration"] == "worn") & ~told
    lit = frames["sun_altitude_deg"] >= LAMPS_DEG
    sun = (frames["sky_ev100"] + frames["sky_err_stops"] + METERED_STOPS).where(lit, np.inf).fillna(np.inf)
    limit = sun.clip(upper=BRIGHTEST_EV100)
    over = (frames["light_min_ev100"] - limit).where(worn)
    by_sun = frames["light_min_ev100"] <= BRIGHTEST_EV100
    return pd.DataFrame({"stops": over, "by_sun": by_sun})


SEEN = marked("with this on, the scene would have been EV100 {light}, brighter than sunlit snow")
SEEN_BY_SUN = marked(
    "with this on, the scene would have been EV100 {light}, brighter than its sky could make it"
)


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    bright = frames.join(beyond(frames))
    for (_, by_sun), part in bright[bright["stops"] > 0].groupby(["rig", "by_sun"], sort=True):
        size = float(part["stops"].max())
        yield Finding(
            ID,
            "act",
            names(part),
            seen=say(SEEN_BY_SUN if by_sun else SEEN, light=span(part["light_min_ev100"])),
            expected=marked("no brighter than a clear sky with the sun where it stood")
            if by_sun
            else say("at most EV100 {light:g}", light=BRIGHTEST_EV100),
            sure=marked("declared filters against exposures as written"),
            advice=ADVICE,
            # by the sun in whole stops: nobody is to reckon from it where the camera stood
            by=say("{size:.1f} stops", size=size) if not by_sun else stops(float(np.ceil(size))),
            cause=say("{rig}, as declared", rig=part["rig_words"].iloc[0]),
        )
