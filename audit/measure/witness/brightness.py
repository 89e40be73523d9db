"""How bright pictures came out: what tells a wrong exposure from a filter."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.measure.witness.pictures import Pictures
from audit.model.sketch import Sketch
from audit.optics.response import BRIGHTEST, DARKEST, GENERAL, Curve, light_stops

MIDDLE_GREY = 0.18
"""Of white: the grey card (common practice, no source)."""


def brightness_stops(sketch: Sketch, curve: Curve = GENERAL) -> float:
    """Mean light over middle grey, stops; black and white count as the ends of the curve."""
    light = 2.0 ** light_stops(np.clip(sketch.grey, DARKEST, BRIGHTEST), curve)
    return float(np.log2(light.mean() / MIDDLE_GREY))


def all_brightness(
    frames: pd.DataFrame, pictures: Pictures, progress: Callable[[int, int], None] | None = None
) -> NDArray[np.float64]:
    """Brightness of each frame's picture in stops, NaN where it has none."""
    out = np.full(len(frames), np.nan)
    for place, row in enumerate(frames.to_dict("records")):
        sketch = pictures.of({str(name): value for name, value in row.items()})
        if sketch is not None:
            out[place] = brightness_stops(sketch)
        if progress is not None:
            progress(place + 1, len(frames))
    return out
