"""A frame's picture, small: all that the measurements of pixels see of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Codes = NDArray[np.uint8]
Shares = NDArray[np.float64]

LONGEST_SIDE_PX = 320
COLOUR_CELL_PX = 4
"""Side of a colour cell, in pixels of the grey picture."""
CLIPPED_CODE, BLACK_CODE = 254, 1
"""A pixel is clipped where any channel has this code or more, black where all have this or less."""


@dataclass(frozen=True)
class Sketch:
    """One picture in the geometry of the sensor (row 0 as stored, EXIF orientation not applied).

    `grey` holds luma codes, (rows, columns), `LONGEST_SIDE_PX` long at most; `colour` mean RGB codes,
    (rows / 4, columns / 4, 3) rounded down. `clipped` and `black` are shares of the pixels in each ninth,
    (3, 3). `source` is "embedded preview", "reduced decode", "full decode" or "raw half-size", of the size
    `width_px` x `height_px`; `exact` says that the shares were counted in the picture's own pixels.
    """

    grey: Codes
    colour: Codes
    clipped: Shares
    black: Shares
    source: str
    width_px: int
    height_px: int
    exact: bool
