"""One frame held against its partner: brightness, corners, colour, and the map that shows it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from audit.message.text import marked, say
from audit.optics.arrays import Floats
from audit.optics.response import DARKEST, GENERAL, Curve, light_stops
from audit.pixels.cast import Cast, colour_cast
from audit.pixels.evidence import Evidence
from audit.pixels.pair import Pair, compare, laid_over
from audit.pixels.processing import Curves
from audit.pixels.shots import Shot, partners
from audit.pixels.sketch import Sketch
from audit.pixels.static import CornerLoss, corner_loss

Look = Callable[[Shot], Sketch | None]

MAP_ROWS = 24
"""Rows of the map that the report shows (columns for an upright picture)."""
GRAD = marked("a grad is on, which covers part of the frame")
NO_PARTNER = marked("no frame without filters is declared in this scene")
NO_PIXELS = marked("no frame without filters has pixels to compare with")
UNEVEN = {
    "grad": marked("a grad is on, which is uneven itself"),
    "polariser": marked("a polariser is on, which is uneven itself"),
}
NONE = float("nan")


@dataclass(frozen=True)
class BareComparison:
    """What a frame shows against `partner`; without one, `pair.why` says why.

    `pair.stops` is how much brighter the partner's picture is; `darker` the small map of it, the middle zero.
    """

    shot: Shot
    partner: Shot | None
    pair: Pair
    corners: CornerLoss
    cast: Cast
    darker: Floats | None = None

    @property
    def measured(self) -> bool:
        """Whether the two could be compared."""
        return self.partner is not None and not self.pair.why


Against = Callable[[Shot, Shot, Sketch, Sketch, Curve], BareComparison]


def hold(shot: Shot, scene: list[Shot], look: Look, curves: Curves, against: Against) -> BareComparison:
    """Holds a frame against the best of its partners whose picture is the same; `against` holds two."""
    worn = look(shot)
    curve = curves.of(shot.row, worn)
    candidates = [] if shot.uneven == "grad" else partners(shot, scene)
    why = GRAD if shot.uneven == "grad" else NO_PIXELS if candidates else NO_PARTNER
    first: BareComparison | None = None
    for partner in candidates:
        bare = look(partner)
        if bare is None or worn is None:
            continue
        held = against(shot, partner, bare, worn, _of_both(curve, curves.of(partner.row, bare)))
        if held.measured:
            return held
        first = first or held
    return first or BareComparison(shot, None, _no_pair(why), _no_corners(why), _no_cast(why))


def against(shot: Shot, partner: Shot, bare: Sketch, worn: Sketch, curve: Curve) -> BareComparison:
    """Holds a frame's picture against that of a partner. The map of the pair is left out: it is large."""
    pair = compare(bare.grey, worn.grey, curve)
    light = replace(pair, ratio=np.full((1, 1), NONE))
    if pair.why:
        return BareComparison(shot, partner, light, _no_corners(pair.why), _no_cast(pair.why))
    corners = _corners(shot, partner, bare, worn, pair, curve)
    cast = _cast(shot, partner, bare, worn, pair, curve)
    return BareComparison(shot, partner, light, corners, cast, _map(bare, worn, pair, curve))


def _of_both(one: Curve, other: Curve) -> Curve:
    """The curve of two pictures: theirs, or the general one where they are not of one kind."""
    if one == other:
        return one
    return next((curve for curve in (one, other) if curve.doubt), GENERAL)


def _corners(shot: Shot, partner: Shot, bare: Sketch, worn: Sketch, pair: Pair, curve: Curve) -> CornerLoss:
    if shot.uneven:
        return _no_corners(UNEVEN[shot.uneven])
    if not partner.is_bare:
        message = marked("{other_frame} was taken through an empty holder; a bare frame is needed")
        return _no_corners(say(message, other_frame=partner.frame))
    if shot.f_number != partner.f_number:
        return _no_corners(marked("no bare frame has the same f-number"))
    return corner_loss(bare.grey, worn.grey, pair, curve)


def _cast(shot: Shot, partner: Shot, bare: Sketch, worn: Sketch, pair: Pair, curve: Curve) -> Cast:
    if not shot.glasses:
        return _no_cast(marked("no filter is on"))
    told = (shot.fixed_white_balance, partner.fixed_white_balance)
    if None in told:
        return _no_cast(marked("the files do not say whether the white balance was fixed"))
    return colour_cast(bare, worn, pair.stops, all(told), curve)


def evidence_of(held: BareComparison) -> Evidence | None:
    """The map of a measured pair."""
    if held.partner is None or held.darker is None:
        return None
    corners = () if held.corners.why else held.corners.corners
    return Evidence(held.shot.frame, held.partner.frame, held.darker, corners)


def _map(bare: Sketch, worn: Sketch, pair: Pair, curve: Curve) -> Floats:
    """How much darker the worn frame is, the brightness of the middle taken as zero.

    Where it is black and the other one is not, the least that it can be.
    """
    right, down = (round(shift) for shift in pair.shift_px)
    laid = laid_over(worn.grey, (down, right))
    least = light_stops(bare.grey, curve) - light_stops(np.full(1, DARKEST), curve)
    black = (laid < DARKEST) & (laid_over(np.ones_like(laid), (down, right)) > 0)
    small = _shrunk(np.where(black, least, pair.ratio))
    rows, columns = small.shape
    middle = small[rows // 3 : rows - rows // 3, columns // 3 : columns - columns // 3]
    level = float(np.nanmedian(middle)) if np.isfinite(middle).any() else pair.stops
    out: Floats = small - level
    return out


def _shrunk(ratio: Floats) -> Floats:
    """Medians of square cells; a cell that is mostly unknown stays so."""
    side = max(1, round(min(ratio.shape) / MAP_ROWS))
    rows, columns = ratio.shape[0] // side, ratio.shape[1] // side
    cells = ratio[: rows * side, : columns * side].reshape(rows, side, columns, side).swapaxes(1, 2)
    flat = cells.reshape(rows, columns, -1)
    known = np.isfinite(flat).mean(axis=2) >= 0.5
    out = np.full((rows, columns), np.nan)
    out[known] = np.nanmedian(flat[known], axis=1)
    return out


def _no_pair(why: str) -> Pair:
    return Pair(NONE, NONE, NONE, (0.0, 0.0), np.full((1, 1), np.nan), why)


def _no_corners(why: str) -> CornerLoss:
    return CornerLoss(NONE, NONE, (NONE,) * 4, NONE, why)


def _no_cast(why: str) -> Cast:
    return Cast(NONE, NONE, NONE, "", why)
