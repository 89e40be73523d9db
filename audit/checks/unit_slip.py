"""Strength is marked in three ways: stops, optical density, filter factor. They are easily mixed up.

A 3-stop neutral is marked 0.9 (density) or 8 (factor). Typed under the wrong key it looks like a faulty
exposure in every frame that wore it; the frames show which reading is right.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names, stops
from audit.finding import Finding
from audit.message.text import marked, say

ID = "unit-slip"
TITLE = "Strength typed in the wrong unit"
THRESHOLD = (
    "at least two thirds of the comparisons of the filter are off beyond tolerance, and as many come right "
    "in one other unit, better than without the filter; on a few of its frames something else may be wrong "
    "as well"
)
SOURCE = "density D = log10(factor) = stops x log10(2) (definition of optical density, ISO 5-1)"
ADVICE = "Correct the filter in kit.toml and audit again."
NEEDS = ("light_residual_stops", "unit_slip")


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    for _, part in frames[frames["unit_slip"].notna()].groupby("unit_slip", sort=True):
        residual = float(part["light_residual_stops"].median())
        yield Finding(
            ID,
            "act",
            names(part),
            seen=say("exposures {size} off wherever it is worn", size=stops(abs(residual))),
            expected=marked("exposures that fit the strength in the kit"),
            sure=marked("declared filters against exposures as written"),
            advice=ADVICE,
            by=stops(abs(residual)),
            cause=part["unit_slip"].iloc[0],
        )
