"""Two pictures of one scene, with and without a filter, tell how many stops it takes.

The exposures differ by what the photographer set, the pictures by what is left; the sum is the filter. A
six-stop neutral taken for the ten, or a strong neutral that is not what its rim says, shows at once.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names, off_by, pairs, span
from audit.finding import Finding
from audit.message.text import joined, marked, say

ID = "filter-strength"
TITLE = "Filter not as strong as declared"
THRESHOLD = (
    "0.5 stop beyond the declared strength (polariser: its range) and beyond the 95 % range of the measured "
    "one, in which changing light has its part; act from 1.5 stops"
)
SOURCE = (
    "median brightness of cells in both pictures through the camera's tone curve; ranges measured on "
    "brackets of 20 camera models; drift of daylight 0.3 stop a minute (95 %): common practice, no source"
)
ADVICE = (
    "Is it another filter than declared? Correct the declaration. Is it off from its label? `cornerstop "
    "filters` shows it over the whole trip and writes the measured strength into the kit."
)
NEEDS = ("strength_stops", "strength_light_err_stops", "strength_verdict", "filter_stops", "unit_slip")
OFF_STOPS = 0.5
ANOTHER_STOPS = 1.5
"""A label is not off by so much: it is another filter."""


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    measured = frames[frames["strength_stops"].notna() & frames["unit_slip"].isna()]
    for _, part in measured.groupby("strength_filter", sort=True):
        trip = _off(part, "filter_stops")
        if (trip > OFF_STOPS).all() and (trip > part["filter_err_stops"]).all():
            yield _finding(part, trip, "filter_stops", "filter_err_stops", marked("over the whole trip"))
            measured = measured.drop(part.index)
    off = measured[measured["strength_verdict"] == "off"]
    for _, part in off.groupby(["scene", "rig"], sort=True):
        here = _off(part, "strength_stops")
        yield _finding(part, here, "strength_stops", "strength_light_err_stops", marked("in this scene"))


def _off(part: pd.DataFrame, column: str) -> pd.Series:
    """How far a strength lies outside the declared one, stops."""
    below, above = part["even_stops_min"] - part[column], part[column] - part["even_stops_max"]
    return pd.concat([below, above], axis=1).max(axis=1).clip(lower=0)


def _finding(part: pd.DataFrame, off: pd.Series, column: str, err: str, where: str) -> Finding:
    first, size = part.iloc[0], float(off.median())
    what = first["strength_filter"]
    return Finding(
        ID,
        "act" if size >= ANOTHER_STOPS else "look",
        names(part),
        seen=say(
            "{size} ± {error:.1f} stops", size=span(part[column].round(1)), error=max(part[err].max(), 0.1)
        ),
        expected=say("declared {sum}", sum=first["stops_words"]),
        sure=pairs(len(part)),
        advice=ADVICE,
        by=off_by(size, float(part[err].max())),
        cause=say('filter "{filter_name}", {where}', filter_name=what, where=where)
        if pd.notna(what)
        else joined([str(first["rig_words"]), where], ", "),
    )
