"""The exposures alone tell a strong filter, and what they tell should be what was declared.

The estimate behind this check never looks at the declaration. It also sees the filter that was left on after
a setup: the frames are declared bare, and the exposures go on as if it were there.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._elsewhere import told_elsewhere
from audit.checks._words import names, off_by, span
from audit.finding import Finding
from audit.message.text import joined, marked, plural, say

ID = "estimate-declared"
TITLE = "Exposures tell another filter than declared"
THRESHOLD = (
    "an estimate that is sure (99 % or more), or likely and five stops above, 0.5 stop and twice its error "
    "outside the declared range (polariser and grads: from nothing to all of it); one finding for each "
    "scene and rig; silent where two pictures, or the exposures of a frame without filters in the scene, "
    "bear out the declaration within 0.5 stop, and where with it the light goes on as before and after"
)
SOURCE = (
    "most likely sequence of filters given the exposures of the whole trip; how often it is right: see the "
    "benchmarks"
)
ADVICE = (
    "Think back: which filter was on? Correct the declaration, or leave it. An estimate never outweighs "
    "your word."
)
NEEDS = (
    "estimated_independent_stops",
    "estimated_independent_err_stops",
    "estimated_independent_sure",
    "neutral_stops",
    "even_stops_max",
    "strength_stops",
    "light_residual_stops",
)
MAY_LACK = ("strength_stops", "light_residual_stops")
OFF_STOPS, ERRORS = 0.5, 2.0
STRONG_STOPS = 5.0
"""So much more than declared is believed where it is only likely: of less, one in twenty is an accident."""
USED = ("frame", "scene", "rig", "rig_words", "stops_words", "declaration", *NEEDS[:3])


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    said = frames["declaration"].isin(["worn", "bare"]) & (frames["declaration_source"] == "photographer")
    part = frames[said & ~told_elsewhere(frames) & ~_borne_out(frames)]
    estimate, err = part["estimated_independent_stops"], part["estimated_independent_err_stops"]
    most = part["even_stops_max"] + part["grad_stops"].fillna(0)
    off = (estimate - most).clip(lower=0) - (part["neutral_stops"] - estimate).clip(lower=0)
    sure = part["estimated_independent_sure"]
    trusted = (sure == "sure") | ((sure == "likely") & (off >= STRONG_STOPS))
    beyond = trusted & (off.abs() > OFF_STOPS) & (off.abs() > ERRORS * err)
    part = part[[*USED]].assign(off=off, more=off > 0)[beyond]
    for (_, _, more), run in part.groupby(["scene", "rig", "more"], sort=True, dropna=False):
        yield _finding(run, bool(more))


def _borne_out(frames: pd.DataFrame) -> pd.Series:
    """Where a frame without filters beside it tells what was declared: nearer than the whole trip."""
    low, high = frames["even_stops_min"] - OFF_STOPS, frames["even_stops_max"] + OFF_STOPS
    shown = (frames["strength_stops"] >= low) & (frames["strength_stops"] <= high)
    bare = (frames["declaration"] == "bare") & (frames["declaration_source"] == "photographer")
    beside = (frames["declaration"] == "worn") & frames["scene"].isin(frames.loc[bare, "scene"].dropna())
    # Before and after, too: with the filters declared the light goes on as it was.
    goes_on = frames["neighbour_off_stops"].abs() <= frames["neighbour_spread_stops"]
    out: pd.Series = shown | goes_on | (beside & (frames["light_residual_stops"].abs() <= OFF_STOPS))
    return out


def _finding(run: pd.DataFrame, more: bool) -> Finding:
    first = run.iloc[0]
    bare = first["declaration"] == "bare"
    cause = marked("more was on") if more else marked("less was on, or nothing")
    sure = (run["estimated_independent_sure"] == "sure").all()
    return Finding(
        ID,
        "look",
        names(run),
        seen=plural(
            len(run),
            "exposure says {estimate} ± {error:.1f} stops in {count} frame",
            "exposure says {estimate} ± {error:.1f} stops in {count} frames",
            estimate=span(run["estimated_independent_stops"].round(1)),
            error=max(run["estimated_independent_err_stops"].max(), 0.1),
            count=len(run),
        ),
        expected=marked("declared bare") if bare else say("declared {sum}", sum=first["stops_words"]),
        sure=marked("estimated from exposures alone, sure")
        if sure
        else marked("estimated from exposures alone, likely"),
        advice=ADVICE,
        by=off_by(float(run["off"].abs().median()), float(run["estimated_independent_err_stops"].max())),
        cause=joined([str(first["rig_words"]), marked("left on after the setup") if bare else cause], ": "),
    )
