"""How much brighter one picture of a scene is than another, with its error, and which cells do not follow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audit.message.text import marked, say
from audit.optics.arrays import Floats
from audit.optics.response import BRIGHTEST, DARKEST, GENERAL, Curve, light_stops
from audit.pixels.register import overlap, register
from audit.pixels.sketch import Codes

CELL_PX = 4
FOLLOWS_STOPS = 0.15
"""A cell follows if it lies this near to what its place and its tone let expect."""
FOLLOWS_SHARE = 0.1
"""The same, of the difference between the two pictures: what a tone curve may still be wrong by."""
_LARGE_STOPS = 0.5
_ROUNDS = 6
_STILL = 1e-6
"""Keeps the fit solvable where all cells have one tone."""


def odd_cells(ratio: Floats, tone: Floats) -> tuple[Mask, float]:
    """Pixels of the cells that do not follow (the map's shape), and their share of the known cells.

    What is expected is a smooth surface over the picture (light that drifts, a lens' falloff, a filter that
    is not quite even) and a smooth function of `tone` (a tone curve not quite right), fitted robustly.
    """
    values, tones = _cells(ratio), _cells(tone)
    known = np.isfinite(values)
    if known.sum() < 30:
        return np.zeros(ratio.shape, np.bool_), 0.0
    terms = _terms(values.shape, tones)[known]
    wanted = values[known]
    allowed = FOLLOWS_STOPS + FOLLOWS_SHARE * abs(float(np.median(wanted)))
    weight, miss = np.ones(len(wanted)), wanted
    for _ in range(_ROUNDS):
        normal = (terms * weight[:, None]).T @ terms + _STILL * np.eye(terms.shape[1])
        miss = np.abs(wanted - terms @ np.linalg.solve(normal, terms.T @ (weight * wanted)))
        weight = 1 / (1 + (miss / allowed) ** 2)
    odd = np.zeros(values.shape, np.bool_)
    odd[known] = miss > allowed
    return _spread(odd, ratio.shape), float(odd.sum() / known.sum())


def unlike(light_a: Floats, light_b: Floats) -> float:
    """How little the detail of two log lights has in common: 0 the same, 1 nothing.

    Steps from cell to cell of the ratio, as a share of the steps in both: about 1 for another composition,
    and for an even sky, where there is no detail but noise.
    """
    known = np.isfinite(light_a - light_b)
    parts = (np.where(known, light, np.nan) for light in (light_a - light_b, light_a, light_b))
    ratio, one, other = (_detail(_cells(part)) for part in parts)
    return ratio / max(float(np.hypot(one, other)), 1e-6)


def _detail(cells: Floats) -> float:
    """Mean step between neighbouring cells, large ones cut down; 0 where nothing is known."""
    steps = np.abs(np.concatenate([np.diff(cells, axis=0).ravel(), np.diff(cells, axis=1).ravel()]))
    known = steps[np.isfinite(steps)]
    return float(np.minimum(known, _LARGE_STOPS).mean()) if known.size else 0.0


def _terms(shape: tuple[int, ...], tone: Floats) -> Floats:
    """Surface of second order over the picture and over the tone, (rows, columns, terms)."""
    y, x = np.meshgrid(*(np.linspace(-1, 1, n) for n in shape), indexing="ij")
    t = (tone - np.nanmedian(tone)) / 2
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y, t, t * t], axis=-1)


def _cells(picture: Floats) -> Floats:
    """Means of square cells; NaN where more than half of a cell is unknown."""
    rows, columns = (n // CELL_PX for n in picture.shape)
    cut = picture[: rows * CELL_PX, : columns * CELL_PX]
    cells = cut.reshape(rows, CELL_PX, columns, CELL_PX)
    known = np.isfinite(cells)
    count = known.sum(axis=(1, 3))
    total = np.where(known, cells, 0.0).sum(axis=(1, 3))
    return np.where(count >= CELL_PX**2 / 2, total / np.maximum(count, 1), np.nan)


def _spread(odd: Mask, shape: tuple[int, ...]) -> Mask:
    """Cells back to pixels; the rest at the edges follows its neighbours."""
    wide = np.repeat(np.repeat(odd, CELL_PX, axis=0), CELL_PX, axis=1)
    lacking = [(0, n - m) for n, m in zip(shape, wide.shape, strict=True)]
    return np.pad(wide, lacking, mode="edge")


Mask = NDArray[np.bool_]

FARTHEST_SHIFT = 0.03
"""Of the long side: beyond it near and far things have moved against each other."""
MOST_MOVED = 1 / 3
MOST_MOVED_UNLIKE, UNLIKE = 0.05, 0.75
"""Moved cells are too many earlier if what is left of the detail is this different: another composition."""
LEAST_VALID = 0.05
"""Of the picture: cells that are neither too dark nor too bright in both."""
GENERAL_FARTHEST_STOPS = 2.25
GENERAL_LEAST_ERR_STOPS, GENERAL_ERR_SHARE = 0.05, 0.22
"""95 % range with the general curve: the first, and so much of the measured difference. Chosen on brackets of
16 real cameras no curve was fitted on (95 %: 0.10, 0.20 and 0.49 about 0.35, 0.9 and 1.75 stops); tried on
six simulated ones (benchmarks/pairs.py)."""
LEAST_ERR_STOPS = 0.1
"""The least range with any curve that is not the camera's own."""
DOUBTED_FARTHEST_STOPS = 0.5
DOUBTED_LEAST_ERR_STOPS, DOUBTED_ERR_SHARE = 0.12, 0.9
"""The same where the curve may be far off. Chosen on brackets of four phones, one of which reads 45 % low (a
true difference is then 1.8 times the one read), and on simulated phones; tried on other scenes of those
(benchmarks/pairs.py)."""
OWN_FARTHEST_STOPS = 3.25
OWN_LEAST_ERR_STOPS, OWN_ERR_FACTOR = 0.06, 2.2
"""95 % range with a camera's own curve, from what its brackets left (1 sigma, factor for few brackets)."""
OWN_GROWS_FROM_STOPS = 1.0
"""Beyond this difference that range grows with it. Chosen on series of two real cameras, where a range that
stayed as it was held in 79 % at 2.25 to 3.25 stops, and on six simulated ones, where one that grew from 1.25
on held in 93 %; tried on other scenes of those (benchmarks/pairs.py)."""
TONE_STOPS = 0.25
LEAST_TONE = 0.002
"""Of the picture: a tone that fewer cells have says nothing."""
KNOWN_BELOW = 128.0
"""Code: the general curve was fitted on night and indoor scenes mostly, and shoulders differ most."""


@dataclass(frozen=True)
class Pair:
    """Two pictures of one scene.

    `stops` is log2 of the light of a over that of b, `err_stops` its 95 % range for a light that held;
    `moved` the share of cells that do not follow; `shift_px` (right, down) how far b's scene lies from a's;
    `ratio` the map of a over b in stops, in a's geometry, NaN where unknown. `why` says why the two cannot be
    compared (then all numbers are NaN).
    """

    stops: float
    err_stops: float
    moved: float
    shift_px: tuple[float, float]
    ratio: Floats
    why: str


def compare(a: Codes, b: Codes, curve: Curve = GENERAL, farthest_stops: float | None = None) -> Pair:
    """Compares two small pictures (luma codes, (rows, columns)) of one camera, or says why it cannot.

    `farthest_stops` replaces how far apart the two may be; beyond the known range the error is NaN.
    """
    if a.shape != b.shape:
        return _refused(a, marked("the two pictures differ in shape"))
    down, right = register(a, b, curve)
    if max(abs(down), abs(right)) > FARTHEST_SHIFT * max(a.shape):
        return _refused(a, _moved_away(max(abs(down), abs(right)) / max(a.shape)))
    laid = laid_over(b, (down, right))
    light_a, light_b = light_stops(a, curve), light_stops(laid, curve)
    ratio = light_a - light_b
    valid = np.isfinite(ratio)
    if valid.mean() < LEAST_VALID:
        return _refused(a, _too_few(a, b))
    # The lighter of the two, so that a corner that is cut in one keeps its tone and stands out in it.
    tone = np.maximum(light_a, light_b + float(np.median(ratio[valid])))
    odd, moved = odd_cells(ratio, tone)
    if moved > MOST_MOVED:
        return _refused(a, _too_changed(moved))
    code = (a.astype(np.float64) + laid) / 2
    if moved > MOST_MOVED_UNLIKE and unlike(light_a, light_b) > UNLIKE:
        return _refused(a, marked("the two do not show the same picture"))
    used = valid & ~odd
    stops = float(np.median(ratio[used])) if curve.own else _level(ratio, tone, code, used)
    if abs(stops) > (farthest(curve) if farthest_stops is None else farthest_stops):
        return _refused(a, _too_far(stops, curve))
    return Pair(stops, err_stops(stops, curve), moved, (float(right), float(down)), ratio, "")


def laid_over(picture: Codes, shift: tuple[int, int]) -> Codes:
    """A picture laid over another, in that one's geometry; code 0 (unknown) where it shows nothing of it."""
    out = np.zeros_like(picture)
    here, there = overlap(out, picture, shift)
    here[:] = there
    return out


def _level(ratio: Floats, tone: Floats, code: Floats, used: Mask) -> float:
    """Mean over the tones of the median of each: every tone counts alike, the lighter half less.

    The general curve is wrong by some tenths in some tones of any camera; where every tone of a quarter stop
    has its say, that does less harm than in a plain median, in which the tone that fills the frame decides.
    """
    number = np.floor(tone[used] / TONE_STOPS).astype(int)
    order = np.argsort(number, kind="stable")
    _, starts = np.unique(number[order], return_index=True)
    ratios, codes = (np.split(part[used][order], starts[1:]) for part in (ratio, code))
    count = np.array([len(part) for part in ratios])
    middle = np.array([np.median(part) for part in ratios])
    weight = 1 / (1 + (np.array([part.mean() for part in codes]) / KNOWN_BELOW) ** 4)
    told = count >= min(LEAST_TONE * ratio.size, count.max())
    return float(np.average(middle[told], weights=weight[told]))


def farthest(curve: Curve) -> float:
    """The largest difference in stops that is told with a curve."""
    if curve.own:
        return OWN_FARTHEST_STOPS
    return DOUBTED_FARTHEST_STOPS if curve.doubt else GENERAL_FARTHEST_STOPS


def err_stops(stops: float, curve: Curve) -> float:
    """95 % range of a measured difference, wider the larger it is; NaN beyond what is known."""
    apart = abs(stops)
    if apart > farthest(curve):
        return np.nan
    if curve.own:
        return max(OWN_LEAST_ERR_STOPS, OWN_ERR_FACTOR * (curve.residual_stops or 0.0)) * growth(apart)
    if curve.doubt:
        return max(LEAST_ERR_STOPS, DOUBTED_LEAST_ERR_STOPS + DOUBTED_ERR_SHARE * apart)
    return max(LEAST_ERR_STOPS, GENERAL_LEAST_ERR_STOPS + GENERAL_ERR_SHARE * apart)


def growth(stops: float) -> float:
    """How many times the error of a small difference an own curve makes in one of so many stops."""
    return max(1.0, abs(stops) / OWN_GROWS_FROM_STOPS)


def _moved_away(share: float) -> str:
    return say(
        "the camera moved between the two, by {percent:.1f} % of the picture's long side", percent=100 * share
    )


def _too_changed(share: float) -> str:
    return say(
        "too much moved or changed between the two: {percent:.0f} % of the picture", percent=100 * share
    )


def _too_few(a: Codes, b: Codes) -> str:
    dark = max(float((c < DARKEST).mean()) for c in (a, b))
    bright = max(float((c > BRIGHTEST).mean()) for c in (a, b))
    if min(dark, bright) > 0.3:
        return marked("one of the two is too dark and the other too bright to compare")
    if dark > bright:
        return marked("one of the two is too dark to compare")
    return marked("one of the two is too bright to compare")


def _too_far(stops: float, curve: Curve) -> str:
    if curve.own:
        return say("the two pictures are about {apart:.1f} stops apart, too far to measure", apart=abs(stops))
    if curve.doubt:
        return say(
            "the two pictures are about {apart:.1f} stops apart, too far to measure with the general tone "
            "curve: {doubt}",
            apart=abs(stops),
            doubt=curve.doubt,
        )
    return say(
        "the two pictures are about {apart:.1f} stops apart, too far to measure without a bracket of three "
        "from this camera",
        apart=abs(stops),
    )


def _refused(a: Codes, why: str) -> Pair:
    nothing = float("nan")
    return Pair(nothing, nothing, nothing, (0.0, 0.0), np.full(a.shape, np.nan), why)
