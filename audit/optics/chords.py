"""Share of an ellipse that lies inside circles and between pairs of edges, by the lengths of clipped chords.

All in the ellipse's own axes: first coordinate along its radial semi-axis, second along the tangential one,
origin in its middle. Arrays hold one value for each of n ellipses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from audit.optics.arrays import Floats

Pair = tuple[Floats, Floats]

NODES = 32
_ANGLES = np.arange(1, NODES + 1)[:, None] * np.pi / (NODES + 1)
# Gauss-Chebyshev nodes of the second kind: places of the chords in the unit disc, half their length, and
# the weight of their length.
_PLACE, _CHORD, _WEIGHT = np.cos(_ANGLES), np.sin(_ANGLES), np.sin(_ANGLES)[:, 0] / (NODES + 1)

TURNS = np.radians([[0.0], [45.0], [90.0], [135.0]])
STEEP = 0.5
"""Angles of chords against the radial axis; they turn where an edge's normal lies nearer to the tangential
axis than this slope says (63 degrees from the radial one)."""
HAIR = 1e-9
"""An edge exactly along the chords is tilted by this, mm; and what decides between turns alike."""


class Disc(NamedTuple):
    """The inside of a circle, in the ellipse's own axes.

    Attributes
    ----------
    middle : radial and tangential coordinate, arrays of (n,) [mm]
    radius : [mm]
    """

    middle: Pair
    radius: float

    @property
    def towards(self) -> Pair:
        """Across its edge to its middle [mm]."""
        return self.middle


class Slab(NamedTuple):
    """What lies between two parallel edges, in the ellipse's own axes.

    Attributes
    ----------
    normal : of the edges, length 1, two arrays of (n,) [1]
    offset : place of their middle along the normal, (n,) [mm]
    width : distance of the edges [mm]
    cut : 1 where they come near the ellipse, 0 where they surely do not, (n,) [1]
    """

    normal: Pair
    offset: Floats
    width: float
    cut: Floats

    @property
    def towards(self) -> Pair:
        """Across its edges to their middle, 0 where they do not cut [1]."""
        sign = np.copysign(self.cut, self.offset)
        return sign * self.normal[0], sign * self.normal[1]


def share_inside(radial: Floats, tangential: Floats, limits: Sequence[Disc | Slab]) -> Floats:
    """Share of ellipses that lies inside every limit.

    The lengths of 32 chords, clipped by each limit, are summed up with the weights of a Gauss-Chebyshev rule
    of the second kind.

    Parameters
    ----------
    radial : semi-axes, above 0, (n,) [mm]
    tangential : semi-axes, above 0, (n,) [mm]
    limits : circles and pairs of edges, one or more [-]

    Returns
    -------
    shares, 0 to 1, (n,); NaN where an axis or a limit is [1]

    Source
    ------
    Own derivation; beside MathWorld, Circle-Circle Intersection, eq. 14, and rays followed one by one.
    """
    turn = _turn(radial, tangential, [limit.towards for limit in limits])
    chords = _Chords.radial(radial, tangential) if turn is None else _Chords.turned(radial, tangential, turn)
    end = np.repeat(_CHORD, len(radial), axis=1)
    start = -end
    for limit in limits:
        middle, half = chords.inside(limit) if isinstance(limit, Disc) else chords.between(limit)
        np.maximum(start, middle - half, out=start)
        np.minimum(end, middle + half, out=end)
    end -= start
    np.maximum(end, 0.0, out=end)
    return np.clip(_WEIGHT @ end, 0.0, 1.0)


@dataclass(frozen=True)
class _Chords:
    """Chords across ellipses: points s * chord + v * place, v a node of the unit disc, s along the chord.

    `lean` and `aside` are v * place along and across the chord, in units of it.
    """

    chord: tuple[Floats, Floats | float]
    place: tuple[Floats | float, Floats]
    square: Floats
    lean: Floats | float
    aside: Floats

    @classmethod
    def radial(cls, radial: Floats, tangential: Floats) -> _Chords:
        """Chords along the radial axis."""
        return cls((radial, 0.0), (0.0, tangential), radial**2, 0.0, _PLACE * (tangential / radial))

    @classmethod
    def turned(cls, radial: Floats, tangential: Floats, turn: Floats) -> _Chords:
        """Chords turned by angles in the unit disc."""
        cos, sin = np.cos(turn), np.sin(turn)
        chord, place = (radial * cos, tangential * sin), (-radial * sin, tangential * cos)
        square = chord[0] ** 2 + chord[1] ** 2
        lean = _PLACE * ((chord[0] * place[0] + chord[1] * place[1]) / square)
        return cls(chord, place, square, lean, _PLACE * (radial * tangential / square))

    def inside(self, disc: Disc) -> Pair:
        """Middle and half length, in s, of what a disc leaves."""
        x, y = disc.middle
        side = (self.chord[0] * y - self.chord[1] * x) / self.square
        level = (self.chord[0] * x + self.chord[1] * y) / self.square
        half = self.aside - side
        half *= half
        np.subtract(disc.radius**2 / self.square, half, out=half)
        np.sqrt(np.maximum(half, 0.0, out=half), out=half)
        return level - self.lean, half

    def between(self, slab: Slab) -> Pair:
        """Middle and half length, in s, of what a slab leaves."""
        along = slab.normal[0] * self.chord[0] + slab.normal[1] * self.chord[1]
        along = np.where(np.abs(along) < HAIR, HAIR, along)
        slope = (slab.normal[0] * self.place[0] + slab.normal[1] * self.place[1]) / along
        return slab.offset / along - _PLACE * slope, np.abs(slab.width / 2 / along)


def _turn(radial: Floats, tangential: Floats, towards: Sequence[Pair]) -> Floats | None:
    """Angle in the unit disc by which chords are turned away from radial; None where none is.

    A chord that runs along an edge is cut whole or not at all, which is coarse. Where a cutting edge lies
    along the radial axis, the one of four angles is taken that crosses all edges best; of two alike the one
    that points to where the openings lie, so that mirrored rigs stay mirrored.
    """
    in_disc = [(u * radial, v * tangential) for u, v in towards]
    steep = np.logical_or.reduce([np.abs(u) < STEEP * np.abs(v) for u, v in in_disc])
    if not steep.any():
        return None

    def crossing(u: Floats, v: Floats) -> Floats:
        length = np.hypot(u, v)
        across = np.abs(np.cos(TURNS) * u + np.sin(TURNS) * v)
        return np.divide(across, length, out=np.ones_like(across), where=length > 0)

    worst = np.minimum.reduce([crossing(u, v) for u, v in in_disc])
    worst += HAIR * crossing(*np.sum(in_disc, axis=0))
    return np.where(steep, TURNS[np.argmax(worst, axis=0), 0], 0.0)
