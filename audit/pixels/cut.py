"""Where the corners of a picture of an even sky or wall fall off, and how surely.

What a corner should be is told by a bare frame of the same lens, or by a smooth surface through the uncut
inner field; what it lacks of that, in stops, is the loss. A cut is steep, and alike in opposite corners.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from audit.optics.arrays import Floats
from audit.optics.response import BRIGHTEST, DARKEST, light_stops
from audit.pixels.decode import Codes

CORNERS = ("top left", "top right", "bottom left", "bottom right")
OPPOSITE = ((0, 3), (1, 2))

SECTOR_DEG = 10.0
BIN = 0.01
OUTERMOST = 1.0
FIRST_INNER = {"bare frame": 0.40, "smooth fit": 0.55}
"""Image height up to which no corner is thought to be cut at first, in half diagonals."""
OUTER = 0.55
LEAST_PIXELS = 8
LEVELS_STOPS = (1.0, 2.0, 0.5)
"""Losses at which the place of the edge is looked for, the one that is told best first.

The others tell how wide the edge looks, and so how steep the camera's tone curve is.
"""

LEAST_CUT_STOPS = 0.5
STEEPEST_NATURAL = 6.0
"""Stops per half diagonal: what falls off more slowly at 1 stop is no edge of an opening (f/2.8 gives 24)."""

MOST_FITTED = 20_000
"""Pixels that the smooth surface is fitted to, spread evenly: more would only take longer."""

ROUGH_STOPS = 0.15
"""Robust spread of the inner field around its smooth surface above which it is no even sky."""
STRONGEST_GRADIENT_STOPS = 2.5
"""Slope of the light from corner to opposite corner."""
CLIPPED_SHARE = 0.02
BASELINE_STOPS = {"bare frame": 0.05, "smooth fit": 0.15}
"""Error of what the corner should be: four-corner null of static pairs measured as 0.04 to 0.10 (99 %); of a
smooth fit carried outwards: from simulations."""


@dataclass(frozen=True)
class Edge:
    """Place of one corner's edge: image height in half diagonals, and its error (1 sigma)."""

    level_stops: float
    height: float
    err: float


@dataclass(frozen=True)
class CornerProfile:
    """Loss profile of the four corners (stops, NaN where not known) and the edges found.

    `levels` holds, for each loss that two opposite corners reach, the edges in the order of CORNERS, None
    where a corner is not usable.
    `refused` says why the whole frame tells nothing; `uncut` that it is sound and its corners lack nothing.
    """

    against: Against
    heights: Floats
    losses: Floats
    levels: tuple[tuple[Edge | None, ...], ...]
    rough_stops: float
    gradient_stops: float
    refused: str = ""
    uncut: bool = False


Against = Literal["bare frame", "smooth fit"]
Why = Literal["", "white", "no cut", "too far in", "too slow"]
"""Why a corner has no edge that can be used; "" where it has one."""
_NO_EDGE: dict[Why, str] = {
    "white": "white, or too small to measure",
    "no cut": "no cut in the corners",
    "too far in": "cut so far in that the uncut field is too small; use a longer focal length",
    "too slow": "falls off too slowly for the edge of an opening",
}
DEEPEST_NATURAL_STOPS = 4.0
"""Falloff from the middle to the corner that no lens shows by itself: cos^4 at 60 degrees."""


def measure_cut(codes: Codes, bare: Codes | None = None) -> CornerProfile:
    """Measures one picture (grey codes as stored) against a bare one of the same size, or a smooth fit."""
    against: Against = "smooth fit" if bare is None else "bare frame"
    light = _light(codes)
    clipped = _clipped(codes) or (bare is not None and _clipped(bare))
    if bare is not None:
        light = light - _light(bare)
    field = _Field.of(codes.shape)
    least = FIRST_INNER[against]
    inner, losses, rough, gradient = least, np.full((4, len(field.heights)), np.nan), 0.0, 0.0
    for _ in range(3):
        if not (field.radius[np.isfinite(light)] < inner).sum() > 50:
            return _refused(against, field, "clipped: the middle of the picture is black or white")
        expected, rough, gradient = _surface(light, field, inner, smooth=bare is None)
        losses = _profiles(expected - light, field)
        inner = _uncut(losses, field.heights, least)
    err = float(np.hypot(BASELINE_STOPS[against], rough))
    levels: list[tuple[Edge | None, ...]] = []
    why: tuple[Why, ...] = ()
    for level in LEVELS_STOPS:
        found = [_edge(loss, field.heights, level, err, least) for loss in losses]
        edges = tuple(edge for edge, _ in found)
        if _opposite(edges):
            levels.append(edges)
        if level == min(LEVELS_STOPS):
            why = tuple(reason for _, reason in found)
    refused = _fault(codes, clipped, rough, gradient)
    uncut = not refused and not levels and set(why) == {"no cut"}
    if uncut and _drop(codes, field) > DEEPEST_NATURAL_STOPS:
        uncut, why = False, ("too far in",)
    if not levels:
        refused = refused or _no_edge(why)
    return CornerProfile(against, field.heights, losses, tuple(levels), rough, gradient, refused, uncut)


def _drop(codes: Codes, field: _Field) -> float:
    """Stops from the middle to the corners, as read; a fit that took a wide cut for falloff shows here."""
    light = _light(codes)
    middle, corners = light[field.radius < 0.2], light[field.radius > 0.93]
    if not (np.isfinite(middle).any() and np.isfinite(corners).any()):
        return 0.0
    return float(np.nanmedian(middle) - np.nanmedian(corners))


def _light(codes: Codes) -> Floats:
    """Light in stops; black counts as the darkest code (it lacks at least that much), white as unknown."""
    return light_stops(np.maximum(codes, DARKEST))


def _clipped(codes: Codes) -> bool:
    """Whether too much of the outer field is white, in any picture part that could be an uncut corner."""
    outer = _Field.of(codes.shape).radius > OUTER
    return bool((codes[outer] > BRIGHTEST).mean() > CLIPPED_SHARE)


@dataclass(frozen=True)
class _Field:
    """Coordinates in half diagonals: x right, y up; `sector` is the corner a pixel speaks for, or -1."""

    x: Floats
    y: Floats
    radius: Floats
    sector: NDArray[np.int64]
    bins: NDArray[np.int64]
    heights: Floats

    @classmethod
    def of(cls, shape: tuple[int, ...]) -> _Field:
        rows, columns = shape
        half = np.hypot(rows, columns) / 2
        x = ((np.arange(columns) + 0.5 - columns / 2) / half)[None, :] + np.zeros((rows, 1))
        y = -((np.arange(rows) + 0.5 - rows / 2) / half)[:, None] + np.zeros((1, columns))
        radius = np.hypot(x, y)
        diagonal = np.arctan2(rows, columns)
        off = np.abs(np.arctan2(np.abs(y), np.abs(x)) - diagonal)
        corner = np.where(y > 0, 0, 2) + np.where(x > 0, 1, 0)
        sector = np.where(off <= np.radians(SECTOR_DEG), corner, -1)
        count = round(OUTERMOST / BIN)
        heights = np.asarray((np.arange(count) + 0.5) * BIN, dtype=np.float64)
        return cls(x, y, radius, sector, np.minimum((radius / BIN).astype(np.int64), count - 1), heights)


def _surface(light: Floats, field: _Field, inner: float, *, smooth: bool) -> tuple[Floats, float, float]:
    """What the light would be uncut, its roughness inside, and the gradient from corner to corner.

    Against a bare frame a plane and a square are left (tone curves do not cancel where the exposures
    differ); without one the lens' own falloff, as even powers of the radius.
    """
    square = field.radius**2
    terms = [np.ones_like(square), field.x, field.y, square, *([square**2, square**3] if smooth else [])]
    known = np.isfinite(light) & (field.radius < inner)
    some = np.flatnonzero(known)[:: max(1, int(known.sum()) // MOST_FITTED)]
    rows = np.stack([term.ravel()[some] for term in terms], axis=1)
    values, weight = light.ravel()[some], np.asarray(np.ones(len(some)))
    solution: Floats = np.zeros(len(terms))
    for _ in range(4):  # reweighted, so that a bird or a spot does not tilt the surface
        solution = np.asarray(np.linalg.lstsq(rows * weight[:, None], values * weight, rcond=None)[0])
        miss = values - rows @ solution
        spread = 1.4826 * float(np.median(np.abs(miss))) + 1e-3
        weight = 1 / np.maximum(1.0, np.abs(miss) / (2.5 * spread))
    expected = sum(s * t for s, t in zip(solution, terms, strict=True))
    rough = _rough(np.where(known, light - expected, np.nan))
    return np.asarray(expected), rough, 2 * float(np.hypot(solution[1], solution[2]))


def _rough(miss: Floats) -> float:
    """Spread of 8 x 8 pixel means: noise averages out, clouds do not."""
    rows, columns = (n - n % 8 for n in miss.shape)
    blocks = miss[:rows, :columns].reshape(rows // 8, 8, columns // 8, 8).mean(axis=(1, 3))
    known = blocks[np.isfinite(blocks)]
    return float(np.quantile(np.abs(known), 0.9) / 1.645) if known.size else np.inf


def _profiles(loss: Floats, field: _Field) -> Floats:
    """Median loss by image height in the sector of each corner, (4, heights)."""
    out = np.full((4, len(field.heights)), np.nan)
    for corner in range(4):
        inside = (field.sector == corner) & np.isfinite(loss)
        order = np.argsort(field.bins[inside], kind="stable")
        bins, values = field.bins[inside][order], loss[inside][order]
        numbers, starts = np.unique(bins, return_index=True)
        for number, part in zip(numbers, np.split(values, starts[1:]), strict=True):
            if len(part) >= LEAST_PIXELS:
                out[corner, number] = np.median(part)
    return out


def _uncut(losses: Floats, heights: Floats, least: float) -> float:
    """How far out no corner has begun to fall off."""
    with np.errstate(invalid="ignore"):
        cut = np.nanmax(np.where(np.isfinite(losses), losses, -1.0), axis=0) > 0.2
    cut &= heights > least
    first = float(heights[cut][0]) if cut.any() else OUTERMOST
    return max(least, first - 0.04)


def _edge(
    loss: Floats, heights: Floats, level: float, err_stops: float, least: float
) -> tuple[Edge | None, Why]:
    """The outermost place where the loss passes a level and stays beyond it, or why there is none."""
    known = np.isfinite(loss) & (heights > 0.3)
    if known.sum() < 10 or heights[known][-1] < 0.93:
        return None, "white"
    there, values = heights[known], loss[known]
    below = np.flatnonzero(values < level)
    if values[-3:].mean() < LEAST_CUT_STOPS + err_stops or not len(below) or below[-1] + 2 >= len(values):
        return None, "no cut"
    at = int(below[-1])
    if there[at] < least + 0.05:
        return None, "too far in"
    slope = _slope(there, values, at)
    if slope < STEEPEST_NATURAL:
        return None, "too slow"
    place = there[at] + (level - values[at]) / (values[at + 1] - values[at]) * (there[at + 1] - there[at])
    return Edge(level, float(place), float(np.hypot(err_stops / slope, BIN / 5))), ""


def _opposite(edges: Sequence[Edge | None]) -> bool:
    """Whether two opposite corners both have an edge: a shifted rig moves them in opposite ways."""
    return any(edges[a] is not None and edges[b] is not None for a, b in OPPOSITE)


def _slope(heights: Floats, values: Floats, at: int) -> float:
    """Stops per half diagonal around an edge, over five bins."""
    near = slice(max(0, at - 2), at + 4)
    return float(np.polyfit(heights[near], values[near], 1)[0])


def _fault(codes: Codes, clipped: bool, rough: float, gradient: float) -> str:
    """What is wrong with the picture as a whole, or an empty text."""
    if clipped:
        return "clipped: parts of the outer field are white; expose less"
    if np.mean(codes[_Field.of(codes.shape).radius < OUTER] < DARKEST) > CLIPPED_SHARE:
        return "clipped: the middle of the picture is black; expose more"
    if rough > ROUGH_STOPS:
        return f"clouds or structure ({rough:.2f} stop) stronger than a cut can be told from; use an even sky"
    if gradient > STRONGEST_GRADIENT_STOPS:
        return (
            f"the light changes by {gradient:.1f} stops across the picture; turn to an even part of the sky"
        )
    return ""


def _no_edge(why: tuple[Why, ...]) -> str:
    """Why no two opposite corners have an edge."""
    if not all(why):
        return "too few corners are usable: no two opposite ones fall off"
    return "; ".join(sorted(_NO_EDGE[one] for one in set(why) - {"no cut"} or {"no cut"}))


def _refused(against: Against, field: _Field, reason: str) -> CornerProfile:
    none = np.full((4, len(field.heights)), np.nan)
    return CornerProfile(against, field.heights, none, (), np.inf, 0.0, reason)
