"""A hint of dark corners in a single picture: three corners or all are darker than what lies beside them.

It is no measurement. Forests, rocks, night skies, edited vignettes and a lens' own falloff at full aperture
look like a ring in front of the lens, and a cut hides where the corners are dark anyway.
"""

from __future__ import annotations

import numpy as np

from audit.model.sketch import Codes
from audit.optics.arrays import Floats
from audit.optics.response import BRIGHTEST, DARKEST, GENERAL, Curve, light_stops
from audit.say import say

BOX, AWAY = 0.06, 0.12
"""Side of the fields that are compared, and how far apart they lie, of the picture's width and height."""
THRESHOLD_STOPS = 0.8
"""Above all of 41 compositions of open photographs from the ground without a rig (the most: 0.71) and of 200
painted landscapes (0.67); of 45 from the air one lies above. A cut of
2 stops in the extreme corner, smooth from 0.82 of the half diagonal on, is hinted at in 9 of 10 photographs,
one of 1 stop in half (`benchmarks/corner_pixels.py` counts them again).
"""


def corner_hint(grey: Codes, curve: Curve = GENERAL) -> str:
    """A hint in words, or an empty text. Luma codes (rows, columns)."""
    dark = corner_darkness(grey, curve)
    if not dark > THRESHOLD_STOPS:
        return ""
    return say(
        "three corners or all are about {stops:.1f} stops darker than what lies beside them: perhaps a ring "
        "or a holder, perhaps only what the picture shows there",
        stops=dark,
    )


def corner_darkness(grey: Codes, curve: Curve = GENERAL) -> float:
    """Stops by which three corners at least are darker than the median of the three fields beside each.

    A field that is white counts as the brightest code known, black as the darkest; NaN never.
    """
    light = light_stops(np.clip(grey, DARKEST, BRIGHTEST), curve)
    turned = (light, light[:, ::-1], light[::-1], light[::-1, ::-1])
    return float(sorted(_first_corner(one) for one in turned)[1])


def _first_corner(light: Floats) -> float:
    rows, columns = light.shape
    high, wide = max(1, round(BOX * rows)), max(1, round(BOX * columns))
    below, beside = round(AWAY * rows), round(AWAY * columns)
    corner, *others = (
        float(np.median(light[y : y + high, x : x + wide])) for y in (0, below) for x in (0, beside)
    )
    return float(np.median(others)) - corner
