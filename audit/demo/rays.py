"""How much of the light bundle passes a stack of openings, by following single rays.

Axes: x right, y up, seen from behind the camera, in object space. Distances count forward from the front edge
of the filter thread; the entrance pupil lies `depth_mm` behind it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
_RAYS_AT_ONCE = 2_000_000


@dataclass(frozen=True)
class Bundle:
    """The light that forms one image point, as it crosses the entrance pupil.

    On the axis it is a disc of radius focal length / (2 N). Off the axis, with t the field tangent, it is an
    ellipse with semi-axes r (1+t^2)^(radial_growth/2) and r (1+t^2)^(tangential_growth/2) that crosses the
    axis at depth + drift_mm t^2; both growths and the drift are 0 for a plain disc.
    """

    focal_length_mm: float
    f_number: float
    depth_mm: float
    radial_growth: float = 0.0
    tangential_growth: float = 0.0
    drift_mm: float = 0.0


@dataclass(frozen=True)
class Round:
    """A circular opening; `x_mm`, `y_mm` place its centre."""

    radius_mm: float
    distance_mm: float
    x_mm: float = 0.0
    y_mm: float = 0.0


@dataclass(frozen=True)
class Box:
    """A rectangular opening; `turned_deg` is the angle from the x axis towards the y axis of its width."""

    width_mm: float
    height_mm: float
    distance_mm: float
    turned_deg: float = 0.0
    x_mm: float = 0.0
    y_mm: float = 0.0


@dataclass(frozen=True)
class Pane:
    """A plane plate across the axis, its back face at `distance_mm`; it bends light and blocks none."""

    thickness_mm: float
    distance_mm: float
    index: float = 1.5


Opening = Round | Box


@lru_cache(maxsize=8)
def disc_points(rays: int, seed: int) -> tuple[Floats, Floats]:
    """Evenly spread points of the unit disc, mirrored on both axes so that no direction is preferred.

    An additive sequence on the square (golden ratio of two dimensions, 1/g and 1/g^2 with g^3 = g + 1: from
    memory), started at a place the seed decides, mapped to a quarter disc by radius = sqrt(u).
    """
    golden = 1.32471795724474602596
    count = max(1, rays // 4)
    start = np.random.default_rng(seed).random(2)
    steps = np.arange(1, count + 1)
    u = (start[0] + steps / golden) % 1.0
    v = (start[1] + steps / golden**2) % 1.0
    x = np.sqrt(u) * np.cos(v * math.pi / 2)
    y = np.sqrt(u) * np.sin(v * math.pi / 2)
    return np.concatenate([x, -x, -x, x]), np.concatenate([y, y, -y, -y])


def passes(opening: Opening, x_mm: Floats, y_mm: Floats) -> NDArray[np.bool_]:
    """Whether rays that cross the opening's plane at x, y go through it."""
    dx, dy = x_mm - opening.x_mm, y_mm - opening.y_mm
    if isinstance(opening, Round):
        return np.asarray(dx * dx + dy * dy <= opening.radius_mm**2)
    turn = math.radians(opening.turned_deg)
    along = dx * math.cos(turn) + dy * math.sin(turn)
    across = dy * math.cos(turn) - dx * math.sin(turn)
    return np.asarray((np.abs(along) <= opening.width_mm / 2) & (np.abs(across) <= opening.height_mm / 2))


def unobstructed(
    tan_x: ArrayLike,
    tan_y: ArrayLike,
    bundle: Bundle,
    openings: Sequence[Opening],
    panes: Sequence[Pane] = (),
    *,
    rays: int = 4096,
    seed: int = 1,
) -> Floats:
    """Fraction of the bundle, 0 to 1, that passes every opening, for field tangents of any shape.

    Panes do not overlap; an opening may lie within one.
    `rays` is the number of rays for each field point (a multiple of 4); the same seed gives the same rays.
    """
    wide_x, wide_y = np.broadcast_arrays(np.asarray(tan_x, float), np.asarray(tan_y, float))
    flat_x, flat_y = wide_x.ravel(), wide_y.ravel()
    out = np.ones(flat_x.shape)
    step = max(1, _RAYS_AT_ONCE // rays)
    for first in range(0, flat_x.size, step):
        part = slice(first, first + step)
        disc = disc_points(rays, seed)
        out[part] = _fraction(flat_x[part], flat_y[part], bundle, openings, panes, disc)
    return out.reshape(wide_x.shape)


def _fraction(
    tan_x: Floats,
    tan_y: Floats,
    bundle: Bundle,
    openings: Sequence[Opening],
    panes: Sequence[Pane],
    disc: tuple[Floats, Floats],
) -> Floats:
    """The fraction for one run of field points: a table of field points by rays."""
    start_x, start_y = _starts(tan_x, tan_y, bundle, disc)
    depth = bundle.depth_mm + bundle.drift_mm * (tan_x**2 + tan_y**2)
    through = np.ones(start_x.shape, dtype=bool)
    for opening, (x, y) in zip(openings, crossings(tan_x, tan_y, depth, openings, panes), strict=True):
        through &= passes(opening, start_x + x[:, None], start_y + y[:, None])
    return np.asarray(through.mean(axis=1))


def crossings(
    tan_x: Floats, tan_y: Floats, depth_mm: Floats, openings: Sequence[Opening], panes: Sequence[Pane]
) -> list[tuple[Floats, Floats]]:
    """Where the middle ray of each bundle crosses the plane of each opening, from `depth_mm` on the axis.

    All rays of a bundle are parallel, so that the others lie beside it by as much as at the start.
    """
    outside = np.stack([tan_x, tan_y, np.ones_like(tan_x)])
    ray = outside / np.linalg.norm(outside, axis=0)
    place = np.stack([np.zeros_like(tan_x), np.zeros_like(tan_x), -depth_mm])
    faces = [(p.distance_mm, 2, p.index) for p in panes]
    # Where planes meet: out of the pane behind first, then the opening, then into the pane before it.
    faces += [(p.distance_mm + p.thickness_mm, 0, 1 / p.index) for p in panes]
    stops = [(o.distance_mm, 1, float(n)) for n, o in enumerate(openings)]
    found: dict[int, tuple[Floats, Floats]] = {}
    for along_mm, kind, what in sorted([*faces, *stops]):
        place = place + ray * ((along_mm - place[2]) / ray[2])
        if kind == 1:
            found[int(what)] = (place[0], place[1])
        else:
            ray = _bent(ray, what)
    return [found[n] for n in range(len(openings))]


def _bent(ray: Floats, ratio: float) -> Floats:
    """Unit vectors behind a face across the axis, by Snell's law; `ratio` of the indices, new over old.

    What lies along the face shrinks by the ratio, and the vector stays as long as it was.
    """
    beside = ray[:2] / ratio
    return np.stack([*beside, np.sqrt(1 - (beside**2).sum(axis=0))])


def _starts(
    tan_x: Floats, tan_y: Floats, bundle: Bundle, disc: tuple[Floats, Floats]
) -> tuple[Floats, Floats]:
    """Where each ray crosses the pupil's plane, measured from the middle of its bundle."""
    radius = bundle.focal_length_mm / (2 * bundle.f_number)
    square = tan_x**2 + tan_y**2
    tangent = np.hypot(tan_x, tan_y)  # a square may be too small a number for its root
    cos = np.divide(tan_x, tangent, out=np.ones_like(tangent), where=tangent > 0)
    sin = np.divide(tan_y, tangent, out=np.zeros_like(tangent), where=tangent > 0)
    radial = (radius * (1 + square) ** (bundle.radial_growth / 2))[:, None] * disc[0]
    tangential = (radius * (1 + square) ** (bundle.tangential_growth / 2))[:, None] * disc[1]
    return (
        radial * cos[:, None] - tangential * sin[:, None],
        radial * sin[:, None] + tangential * cos[:, None],
    )
