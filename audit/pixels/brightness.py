"""How bright pictures came out: what tells a wrong exposure from a filter."""

from __future__ import annotations

import numpy as np

from audit.optics.response import BRIGHTEST, DARKEST, GENERAL, Curve, light_stops
from audit.pixels.sketch import Sketch

MIDDLE_GREY = 0.18
"""Of white: the grey card (common practice, no source)."""


def brightness_stops(sketch: Sketch, curve: Curve = GENERAL) -> float:
    """Mean light over middle grey, stops; black and white count as the ends of the curve."""
    light = 2.0 ** light_stops(np.clip(sketch.grey, DARKEST, BRIGHTEST), curve)
    return float(np.log2(light.mean() / MIDDLE_GREY))
