"""How much of the image-forming bundle passes the openings in front of a lens.

The bundle that forms a picture point is a disc of radius r = f/2N only on the axis. Off the axis its
footprint in a plane across the axis is an ellipse that grows with the field, and the point where it
crosses the axis drifts. With t^2 = tan_x^2 + tan_y^2 the radial semi-axis is r (1 + t^2)^(p/2), the
tangential one r (1 + t^2)^(q/2), and the crossing lies at depth + a t^2. Every opening clips it.

Axes: x right, y up, seen from behind the camera, in object space. Depth counts back and distance
forward from the front edge of the filter thread; only their sum enters.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from audit.optics.arrays import Floats
from audit.optics.chords import Disc, Pair, Slab, share_inside
from audit.optics.glass import plate_shortening_mm

AT_ONCE = 256
"""Points clipped at once, so that their chords stay in the processor's cache."""

LAST_BIT = 62
"""Openings from this number on are taken as one when points are sorted by what cuts them."""
SIDEWAYS = 1e6
"""Field tangents beyond this, infinite ones too, count as this: light from the side."""

NARROW, WIDE = 0.42, 0.70
"""Half diagonal over focal length between which lenses were traced; the defaults are held beyond."""


@dataclass(frozen=True)
class Pupil:
    """Entrance pupil of a lens, which grows and drifts off the axis; t is the field tangent.

    Attributes
    ----------
    focal_length_mm : [mm]
    f_number : [1]
    depth_mm : behind the front edge of the filter thread, on the axis [mm]
    radial_growth : p; the radial semi-axis is f/2N (1 + t^2)^(p/2) [1]
    tangential_growth : q; the tangential semi-axis is f/2N (1 + t^2)^(q/2) [1]
    drift_mm : a; off the axis the bundle crosses the axis at depth + a t^2 [mm]
    """

    focal_length_mm: float
    f_number: float
    depth_mm: float
    radial_growth: float = 0.0
    tangential_growth: float = 0.0
    drift_mm: float = 0.0


@dataclass(frozen=True)
class Circle:
    """A round opening.

    Attributes
    ----------
    radius_mm : [mm]
    distance_mm : in front of the thread's edge [mm]
    x_mm : of its middle, to the right of the axis [mm]
    y_mm : of its middle, above the axis [mm]
    glass_mm : thickness of the plane plates between it and the lens [mm]
    """

    radius_mm: float
    distance_mm: float
    x_mm: float = 0.0
    y_mm: float = 0.0
    glass_mm: float = 0.0


@dataclass(frozen=True)
class Rectangle:
    """A rectangular opening.

    Attributes
    ----------
    width_mm : [mm]
    height_mm : [mm]
    distance_mm : in front of the thread's edge [mm]
    turned_deg : from the x axis towards the y axis, where its width lies [deg]
    x_mm : of its middle, to the right of the axis [mm]
    y_mm : of its middle, above the axis [mm]
    glass_mm : thickness of the plane plates between it and the lens [mm]
    """

    width_mm: float
    height_mm: float
    distance_mm: float
    turned_deg: float = 0.0
    x_mm: float = 0.0
    y_mm: float = 0.0
    glass_mm: float = 0.0


Opening = Circle | Rectangle


def default_pupil(
    focal_length_mm: float, f_number: float, depth_mm: float, *, half_diagonal_mm: float = 21.63
) -> Pupil:
    """Pupil with the growth and drift that ray-traced wide lenses have on average.

    Linear in w = half diagonal / focal length and held outside NARROW..WIDE: p from 0.35 to 1.8, q from
    0 to 0.56, a/depth from 0.6 to 0.036.

    Parameters
    ----------
    focal_length_mm : above 0 [mm]
    f_number : above 0 [1]
    depth_mm : behind the thread's edge [mm]
    half_diagonal_mm : of the picture [mm]

    Returns
    -------
    the pupil; growth and drift are NaN where w is [-]

    Source
    ------
    Own fit on six ray-traced wide lenses (patent prescriptions).
    """
    share = float(np.clip((half_diagonal_mm / focal_length_mm - NARROW) / (WIDE - NARROW), 0.0, 1.0))
    return Pupil(
        focal_length_mm,
        f_number,
        depth_mm,
        radial_growth=0.35 + 1.45 * share,
        tangential_growth=0.56 * share,
        drift_mm=depth_mm * (0.6 - 0.564 * share),
    )


def transmission(tan_x: ArrayLike, tan_y: ArrayLike, pupil: Pupil, openings: Iterable[Opening]) -> Floats:
    """Unobstructed fraction of the bundle.

    The ellipse is cut into chords at 32 Gauss nodes, each clipped by every circle and slab; error
    below 0.002 of the bundle, 0.004 behind an opening smaller than the pupil.

    Parameters
    ----------
    tan_x : field tangent to the right, any shape [1]
    tan_y : field tangent upwards, any shape that broadcasts with `tan_x` [1]
    pupil : of the lens [-]
    openings : in front of it, in any order; none lets everything pass [-]

    Returns
    -------
    0 to 1, of the broadcast shape; NaN where a tangent is NaN [1]

    Source
    ------
    Own derivation; beside MathWorld, Circle-Circle Intersection, eq. 14, and rays followed one by one.
    """
    x, y = np.broadcast_arrays(np.asarray(tan_x, dtype=float), np.asarray(tan_y, dtype=float))
    x, y = np.clip(x, -SIDEWAYS, SIDEWAYS), np.clip(y, -SIDEWAYS, SIDEWAYS)
    bundle = _bundle(x.ravel(), y.ravel(), pupil)
    out = np.where(np.isnan(bundle.tan), np.nan, 1.0)
    # Points cut by the same openings are clipped together, and only by those.
    touched = np.zeros(out.shape, dtype=np.int64)
    openings = tuple(openings)
    for number, opening in enumerate(openings):
        holds, misses = _extremes(bundle, opening)
        touched |= np.where(holds, 0, 1 << min(number, LAST_BIT))
        out[misses] = 0.0
    touched[(out == 0.0) | np.isnan(out)] = 0
    for pattern in np.unique(touched[touched > 0]).tolist():
        cutting = [o for number, o in enumerate(openings) if pattern >> min(number, LAST_BIT) & 1]
        rows = np.flatnonzero(touched == pattern)
        for some in np.split(rows, range(AT_ONCE, len(rows), AT_ONCE)):
            out[some] = _clipped(bundle.at(some), cutting)
    return out.reshape(x.shape)


def loss_stops(fraction: ArrayLike) -> Floats:
    """Loss of a transmitted fraction: -log2.

    Parameters
    ----------
    fraction : 0 to 1, any shape [1]
        NaN gives NaN.

    Returns
    -------
    loss, of the shape of `fraction`; infinite where nothing passes [stop]

    Source
    ------
    Definition of the stop.
    """
    with np.errstate(divide="ignore"):
        return -np.log2(np.asarray(fraction, dtype=float)) + 0.0


@dataclass(frozen=True)
class _Bundle:
    """Footprints: field tangents, semi-axes and depth of the crossing; arrays of shape (n,)."""

    tan_x: Floats
    tan_y: Floats
    tan: Floats
    radial: Floats
    tangential: Floats
    depth: Floats

    def at(self, rows: NDArray[np.intp]) -> _Bundle:
        """The footprints of some rows."""
        return _Bundle(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))

    def direction(self) -> Pair:
        """Cosine and sine of the field's direction; that of the x axis on the optical axis."""
        on_axis = self.tan == 0
        tan = np.where(on_axis, 1.0, self.tan)
        return np.where(on_axis, 1.0, self.tan_x / tan), np.where(on_axis, 0.0, self.tan_y / tan)

    def centre(self, opening: Opening) -> Pair:
        """The opening's centre seen from the footprint's."""
        reach = self.depth + opening.distance_mm
        if opening.glass_mm:
            reach = reach - plate_shortening_mm(self.tan, opening.glass_mm)
        return opening.x_mm - reach * self.tan_x, opening.y_mm - reach * self.tan_y


def _bundle(tan_x: Floats, tan_y: Floats, pupil: Pupil) -> _Bundle:
    """Footprints at field tangents of shape (n,)."""
    square = tan_x * tan_x + tan_y * tan_y
    radius = pupil.focal_length_mm / (2 * pupil.f_number)
    return _Bundle(
        tan_x,
        tan_y,
        np.sqrt(square),
        radius * (1 + square) ** (pupil.radial_growth / 2),
        radius * (1 + square) ** (pupil.tangential_growth / 2),
        pupil.depth_mm + pupil.drift_mm * square,
    )


def _extremes(bundle: _Bundle, opening: Opening) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Where an opening surely holds the whole ellipse, and where it surely misses it."""
    x, y = bundle.centre(opening)
    size = np.maximum(bundle.radial, bundle.tangential)
    if isinstance(opening, Circle):
        away = np.hypot(x, y)
        return away + size <= opening.radius_mm, away - size >= opening.radius_mm
    along, across = _turned(x, y, opening)
    out_x, out_y = np.abs(along) - opening.width_mm / 2, np.abs(across) - opening.height_mm / 2
    return (out_x + size <= 0) & (out_y + size <= 0), (out_x >= size) | (out_y >= size)


def _turned(x: Floats, y: Floats, opening: Rectangle) -> Pair:
    """Coordinates along the rectangle's width and height."""
    angle = np.radians(opening.turned_deg)
    cos, sin = np.cos(angle), np.sin(angle)
    return cos * x + sin * y, cos * y - sin * x


def _clipped(bundle: _Bundle, openings: Sequence[Opening]) -> Floats:
    """Fraction that passes all the openings."""
    cos, sin = bundle.direction()
    limits: list[Disc | Slab] = []
    for opening in openings:
        x, y = bundle.centre(opening)
        if isinstance(opening, Circle):
            limits.append(Disc((x * cos + y * sin, y * cos - x * sin), opening.radius_mm))
        else:
            limits += _slabs(bundle, x, y, cos, sin, opening)
    return share_inside(bundle.radial, bundle.tangential, limits)


def _slabs(
    bundle: _Bundle, x: Floats, y: Floats, cos: Floats, sin: Floats, opening: Rectangle
) -> Iterator[Slab]:
    """The pairs of a rectangle's edges that cut anywhere, in radial and tangential axes."""
    along, across = _turned(x, y, opening)
    size = np.maximum(bundle.radial, bundle.tangential)
    angle = np.radians(opening.turned_deg)
    edge_cos, edge_sin = np.cos(angle), np.sin(angle)
    for (normal_x, normal_y), offset, width in (
        ((edge_cos, edge_sin), along, opening.width_mm),
        ((-edge_sin, edge_cos), across, opening.height_mm),
    ):
        cut = (np.abs(offset) + size > width / 2).astype(float)
        if cut.any():
            normal = normal_x * cos + normal_y * sin, normal_y * cos - normal_x * sin
            yield Slab(normal, offset, width, cut)
