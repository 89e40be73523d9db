"""Corner loss from two pictures of one scene, with and without a rig: the corners of their log-ratio map.

What the corners should be is told by the picture inside of them, see `surface`. What stays unsteady near a
corner (clouds, water, leaves) widens the error and lifts the threshold.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audit.message.text import marked, say
from audit.optics.arrays import Floats
from audit.optics.response import BRIGHTEST, DARKEST, GENERAL, Curve, light_stops
from audit.pixels.pair import MOST_MOVED, Pair
from audit.pixels.regions import OPPOSITE, Regions, Rings, block_means, corners_of_map, regions_of
from audit.pixels.sketch import Codes

MOST_FITTED = 12_000
"""Pixels that the surface is fitted to, spread evenly: more would only take longer."""
LEAST_FITTED = 500
ROUNDS = 6
TOLERANCE = 2.5
SHARP_STOPS = 0.02
"""Spread that the weights allow for at least: codes are whole numbers."""


def expected(light: Floats, ratio: Floats, known: Mask, regions: Regions) -> Floats | None:
    """The ratio everywhere as the inner field lets expect it; None where too little of that is known.

    `light` of the bare frame (no NaN) and `ratio`, bare over worn, in stops; `known` where both are sound.
    Terms: plane and square of the image height (light that drifts; a dense filter takes more of slanting
    light), tone (a curve not quite right, a sky that brightened), slope (a shift of part of a pixel).
    """
    inside = np.flatnonzero(known & regions.inner)
    if len(inside) < LEAST_FITTED:
        return None
    some = inside[:: max(1, len(inside) // MOST_FITTED)]
    wanted = ratio.ravel()[some]
    level = float(np.median(wanted))
    place = _place_terms(light, regions)
    # The tone half way between the two, so that what moved leans to neither picture.
    tone = light.ravel()[some] - wanted / 2
    ends = np.quantile(tone, (0.01, 0.99))
    rows = np.concatenate([place[some], _tone_terms(tone, ends)], axis=1)
    found = _robust(rows, wanted)
    everywhere = np.concatenate([place, _tone_terms(light.ravel() - level / 2, ends)], axis=1)
    return np.asarray((everywhere @ found).reshape(ratio.shape))


def _place_terms(light: Floats, regions: Regions) -> Floats:
    x, y = regions.x, regions.y
    down, right = np.gradient(light)
    return np.stack([np.ones_like(x), x, y, x * x + y * y, down, right], axis=-1).reshape(light.size, -1)


def _tone_terms(tone: Floats, ends: Floats) -> Floats:
    """Line and square over the tones that the inner field has; beyond them it goes on level."""
    scaled = (np.clip(tone, *ends) - ends.mean()) / max(1.0, float(ends[1] - ends[0]) / 2)
    return np.stack([scaled, scaled**2], axis=-1)


def _robust(rows: Floats, wanted: Floats) -> Floats:
    """Least squares, what does not follow weighted down (Cauchy)."""
    weight, found = np.ones(len(wanted)), np.zeros(rows.shape[1])
    for _ in range(ROUNDS):
        weighted = rows * weight[:, None]
        found = np.asarray(np.linalg.lstsq(weighted.T @ rows, weighted.T @ wanted, rcond=None)[0])
        miss = np.abs(wanted - rows @ found)
        spread = max(SHARP_STOPS, 1.4826 * float(np.median(miss)))
        weight = 1 / (1 + (miss / (TOLERANCE * spread)) ** 2)
    return found


Mask = NDArray[np.bool_]
Four = tuple[float, float, float, float]

GENERAL_THRESHOLDS = ((0.45, 0.04), (1.25, 0.17))
"""(difference in exposure, four-corner mean that 99 % of pairs up to it without any rig stay below): brackets
of 16 cameras, curve-corrected, 38 pairs of 5 scenes up to 0.45 stop. Between the two it grows evenly, as does
what a curve gets wrong."""
OWN_THRESHOLDS = ((0.45, 0.04), (1.25, 0.08), (2.25, 0.17))
"""The same with a curve fitted on the camera's own brackets; beyond 0.45 stop chosen, some ten times
the null of 89 simulated pairs (95 %: 0.013), since no brackets of real cameras were measured there."""
NORMAL_99 = 2.6
"""Standard deviations; also taken for the 95 % range, since what moved has no normal distribution."""
SPREAD_FACTOR = 1.5
"""Blocks beside a corner are larger than what a corner is, and steadier (simulated clouds)."""
CURVE_SHARE, OWN_CURVE_SHARE = 0.3, 0.06
"""Of a loss: what the general tone curve, and one of the camera itself, may be wrong by (six simulated)."""
DEEP_STOPS, DEEP_SHARE = 2.0, 0.5
"""Deeper losses read too little (3.4 stops as 2.6: blacks are lifted, and the cut reaches far in)."""
LEAST_KNOWN = 0.6
"""Part of a corner that must be neither black nor white in the bare frame, and be seen in both."""
LEAST_BLOCKS = 6
STEADY_STOPS = 0.02
"""Corners steadier than this count alike."""


@dataclass(frozen=True)
class CornerLoss:
    """Stops that the corners of the worn frame lack: their mean with its 95 % range, and each corner.

    `corners` are top left, top right, bottom left, bottom right, as stored, NaN where unknown; steady corners
    count more in the mean. Where the worn frame is black the loss is at least the one given. `step_stops` is
    how much more the corners lack than the field beside them. `why` says why nothing can be said.
    """

    stops: float
    err_stops: float
    corners: Four
    threshold_stops: float
    why: str
    step_stops: float = float("nan")

    @property
    def seen(self) -> bool:
        """Whether the corners, two of them at least, lack more than pairs without a rig show."""
        if self.why:
            return False
        beyond = sum(c > self.threshold_stops for c in self.corners)
        return min(self.stops, self.step_stops) > self.threshold_stops and beyond >= 2


@dataclass(frozen=True)
class _Corner:
    """Loss in one corner and beside it, and the spread of fields as small as a corner beside it."""

    loss: float
    beside: float
    spread: float


def corner_loss(bare: Codes, worn: Codes, pair: Pair, curve: Curve = GENERAL) -> CornerLoss:
    """What the worn frame's corners lack of the bare frame's; `pair` is compare(bare, worn, curve).

    Luma codes (rows, columns) of one shape. Codes below 8 in the worn frame count as "at least".
    """
    least, why = _threshold(pair, curve)
    if why:
        return _refused(why)
    regions = regions_of(bare.shape)
    if regions is None:
        return _refused(marked("the picture is too small for its corners to be measured"))
    laid, valid = _laid(bare, pair.shift_px)
    valid &= worn <= BRIGHTEST
    light = light_stops(np.clip(laid, DARKEST, BRIGHTEST), curve)
    ratio = light - light_stops(np.clip(worn, DARKEST, BRIGHTEST), curve)
    without = expected(light, ratio, valid & (worn >= DARKEST), regions)
    if without is None:
        return _refused(marked("the middle of the picture is black or white in one of the two"))
    missing = np.where(valid, ratio - without, np.nan)
    blocks = block_means(missing)
    corners = [
        _corner(missing[corner], blocks, rings)
        for corner, rings in zip(regions.corners, regions.blocks, strict=True)
    ]
    if not any(np.isfinite(corners[a].loss) and np.isfinite(corners[b].loss) for a, b in OPPOSITE):
        return _refused(_unusable(laid, regions))
    return _together(corners, least, OWN_CURVE_SHARE if curve.own else CURVE_SHARE)


def corner_mean(loss_map: Floats) -> tuple[float, Four]:
    """Mean loss of a predicted map over the corners that `corner_loss` measures, and each of the four.

    (rows, columns) in stops, outermost cells on the picture's edge, 10 stops for black.
    """
    corners = corners_of_map(loss_map)
    return float(np.mean(corners)), corners


def _threshold(pair: Pair, curve: Curve) -> tuple[float, str]:
    """What pairs without a rig stay below, or why this pair cannot be used."""
    if pair.why:
        return 0.0, pair.why
    if pair.moved > MOST_MOVED:
        percent = 100 * pair.moved
        return 0.0, say("too much moved between the two: {percent:.0f} % of the picture", percent=percent)
    apart = abs(pair.stops)
    for limit, least in OWN_THRESHOLDS if curve.own else GENERAL_THRESHOLDS:
        if apart <= limit:
            return least, ""
    return 0.0, say(
        "the two pictures are {apart:.1f} stops apart, too far to compare their corners", apart=apart
    )


def _laid(bare: Codes, shift_px: tuple[float, float]) -> tuple[Codes, Mask]:
    """The bare frame laid under the worn one, in the geometry of the worn one, and where it is sound."""
    right, down = (round(s) for s in shift_px)
    laid = np.roll(bare, (down, right), axis=(0, 1))
    valid = (laid >= DARKEST) & (laid <= BRIGHTEST)
    for axis, shift in ((0, down), (1, right)):
        lost = np.s_[:shift] if shift > 0 else np.s_[valid.shape[axis] + shift :]
        if shift:
            valid[(lost, slice(None)) if axis == 0 else (slice(None), lost)] = False
    return laid, valid


def _corner(values: Floats, blocks: Floats, rings: Rings) -> _Corner:
    known = values[np.isfinite(values)]
    nan = float("nan")
    if known.size < LEAST_KNOWN * values.size:
        return _Corner(nan, nan, nan)
    beside = blocks[rings.rows, rings.columns]
    seen = np.isfinite(beside)
    if seen.sum() < LEAST_BLOCKS:
        return _Corner(nan, nan, nan)
    beside, ring = beside[seen], rings.ring[seen]
    # Ring by ring, so that the onset of a cut does not count as unsteady.
    away = np.concatenate([beside[ring == r] - np.median(beside[ring == r]) for r in np.unique(ring)])
    spread = float(np.sqrt(np.mean(away**2)))
    return _Corner(float(np.mean(known)), float(np.median(beside[ring <= ring.min() + 2])), spread)


def _together(corners: list[_Corner], least_stops: float, curve_share: float) -> CornerLoss:
    loss, beside, spread = (np.array([getattr(c, n) for c in corners]) for n in ("loss", "beside", "spread"))
    usable = np.isfinite(loss)
    # What lies beside a corner tells as well whether all of it moved: a cut is alike in all corners.
    moved = beside - np.median(beside[usable])
    unsteady = np.hypot(SPREAD_FACTOR * spread, moved)[usable]
    weight = 1 / (STEADY_STOPS**2 + unsteady**2)
    weight /= weight.sum()
    stops = float(weight @ loss[usable])
    share = max(curve_share, DEEP_SHARE) if stops > DEEP_STOPS else curve_share
    least = float(np.hypot(least_stops, NORMAL_99 * np.sqrt(np.sum((weight * unsteady) ** 2))))
    a, b, c, d = (float(v) for v in loss)
    return CornerLoss(
        stops=stops,
        err_stops=float(np.hypot(least, share * stops)),
        corners=(a, b, c, d),
        threshold_stops=least,
        why="",
        step_stops=float(weight @ (loss - beside)[usable]),
    )


def _unusable(laid: Codes, regions: Regions) -> str:
    black, white = (
        sum(float(bad[corner].mean()) > 1 - LEAST_KNOWN for corner in regions.corners)
        for bad in (laid < DARKEST, laid > BRIGHTEST)
    )
    if black + white:
        if black >= white:
            return marked("corners of the bare frame are black")
        return marked("corners of the bare frame are white")
    return marked("corners are white, or out of the other picture")


def _refused(why: str) -> CornerLoss:
    nan = float("nan")
    return CornerLoss(nan, nan, (nan, nan, nan, nan), nan, why)
