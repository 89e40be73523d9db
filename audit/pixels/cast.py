"""Colour cast of a filter: what it does to a grey, from two pictures of one scene.

The cast is relative to the picture without the filter, and told only where nothing else can make one: both
pictures with the same fixed white balance, and so alike in brightness that the tone curve cannot.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from audit.message.text import marked, say
from audit.optics.arrays import Floats
from audit.optics.colour import Shift, grey_shift
from audit.optics.response import GENERAL, Curve, light_stops
from audit.pixels.register import Shift as Moved
from audit.pixels.register import overlap, register
from audit.pixels.sketch import COLOUR_CELL_PX, Sketch

FARTHEST_STOPS = 0.5
"""One stop apart, pairs without any filter differ by 0.011 to 0.018 (95 %): as much as a cast."""
LEAST_UV = 0.010
"""About 20 mired: 95 % of pairs of real cameras without any filter stay below 0.006 to 0.009."""
ERR_UV = ((0.25, 0.006), (0.5, 0.009))
"""(up to this picture difference in stops, 95 % range): brackets of 16 cameras, without filters."""
ERR_SHARE = 0.3
"""Of the cast: cameras' contrast differs from that of the general curve by so much (six simulated ones)."""
LEAST_CELLS = 60
NEUTRAL_STOPS = 0.35
"""A cell whose channels differ by so much counts 60 % of a grey one, by twice as much 14 %."""
COLOURED = 0.02
"""What a cell of any colour counts at least, of a grey one."""
CLEARLY = 2.0
"""A direction is named alone where it is so many times the other."""
NONE = float("nan")


@dataclass(frozen=True)
class Cast:
    """Shift of a grey in u'v' (CIE 1976) with its 95 % range; `mired` its part along the daylight locus,
    positive is warmer; `words` the direction. `why` says why there is none (all numbers NaN)."""

    uv: float
    err_uv: float
    mired: float
    words: str
    why: str


def colour_cast(
    bare: Sketch, worn: Sketch, picture_stops: float, fixed_white_balance: bool, curve: Curve = GENERAL
) -> Cast:
    """What was worn does to colour; `picture_stops` is how much brighter the bare picture is.

    `fixed_white_balance` says that both have the same setting that is not automatic.
    """
    if not fixed_white_balance:
        return _refused(marked("automatic white balance, which hides a cast"))
    if not abs(picture_stops) <= FARTHEST_STOPS:
        return _refused(_too_far(picture_stops))
    if bare.colour.shape != worn.colour.shape or bare.grey.shape != worn.grey.shape:
        return _refused(marked("the two pictures differ in shape"))
    ratio, greyness = _ratios(bare, worn, register(bare.grey, worn.grey, curve), curve)
    if len(ratio) < LEAST_CELLS:
        return _refused(
            marked("too little of the two pictures is neither too dark nor too bright in every channel")
        )
    seen = grey_shift(2.0 ** _middle(ratio, greyness))
    return Cast(seen.uv, _err(seen.uv, picture_stops, ratio, greyness), seen.mired, _words(seen), "")


def _ratios(bare: Sketch, worn: Sketch, moved: Moved, curve: Curve) -> tuple[Floats, Floats]:
    """By cell: log2 of each channel of the worn picture over the bare one, green taken as zero; weights."""
    shift = round(moved[0] / COLOUR_CELL_PX), round(moved[1] / COLOUR_CELL_PX)
    before, after = (np.moveaxis(light_stops(sketch.colour, curve), -1, 0) for sketch in (bare, worn))
    laid = [overlap(a, b, shift) for a, b in zip(before, after, strict=True)]
    here, there = (np.stack(channels, axis=-1) for channels in zip(*laid, strict=True))
    ratio = (there - here).reshape(-1, 3)
    tint = here.reshape(-1, 3) - here.reshape(-1, 3)[:, 1:2]
    known = np.isfinite(ratio).all(axis=1)
    ratio, tint = ratio[known], tint[known]
    colour = (tint[:, 0] ** 2 + tint[:, 2] ** 2) / NEUTRAL_STOPS**2
    return ratio - ratio[:, 1:2], COLOURED + (1 - COLOURED) * np.exp(-colour / 2)


def _middle(ratio: Floats, weight: Floats) -> Floats:
    """Weighted median of each channel, (3,)."""
    return np.array([_median(channel, weight) for channel in ratio.T])


def _median(values: Floats, weight: Floats) -> float:
    order = np.argsort(values, kind="stable")
    total = np.cumsum(weight[order])
    return float(values[order[int(np.searchsorted(total, total[-1] / 2))]])


def _err(uv: float, picture_stops: float, ratio: Floats, weight: Floats) -> float:
    """What pairs without a filter differ by, what the curve may be off by, and what two halves differ by."""
    known = next(err for limit, err in ERR_UV if abs(picture_stops) <= limit)
    a, b = (grey_shift(2.0 ** _middle(ratio[half::2], weight[half::2])) for half in (0, 1))
    return float(np.linalg.norm([known, ERR_SHARE * uv, a.along - b.along, a.across - b.across]))


def _words(seen: Shift) -> str:
    if seen.uv <= LEAST_UV:
        return marked("none that shows")
    warm = marked("warmer") if seen.along > 0 else marked("cooler")
    green = marked("greenish") if seen.across > 0 else marked("magenta")
    if abs(seen.along) >= CLEARLY * abs(seen.across):
        return warm
    if abs(seen.across) >= CLEARLY * abs(seen.along):
        return green
    return say("{warmth} and {tint}", warmth=warm, tint=green)


def _too_far(picture_stops: float) -> str:
    if not np.isfinite(picture_stops):
        return marked("the two pictures cannot be compared")
    return say(
        "the two pictures are {apart:.1f} stops apart; beyond half a stop the tone curve hides a cast",
        apart=abs(picture_stops),
    )


def _refused(why: str) -> Cast:
    return Cast(NONE, NONE, NONE, "", why)
