"""From a rig, a lens and a frame to the predicted corner loss, as maps over the picture and as a band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from audit.corners.band import (
    ASSUMED_MM,
    FOCAL_ERR,
    GIVEN_MM,
    ONSET_STOPS,
    Band,
    ErrorSource,
    distortion_err,
)
from audit.corners.prediction import CORNERS, LADDER, Prediction, most_on_the_edge
from audit.declare.rig import Opening as RoundOpening
from audit.declare.rig import Rails, Rig
from audit.kit.kit import Lens
from audit.kit.pupil import PUPIL_BAND_MM, PUPIL_DEPTH_MM, PupilDepth
from audit.message.text import marked, say
from audit.optics.arrays import Floats
from audit.optics.corners import Circle, Opening, Pupil, Rectangle, default_pupil, loss_stops, transmission
from audit.optics.distortion import Distortion
from audit.optics.field import field_map, turned_shift
from audit.optics.onset import field_angle_at_loss, field_angles_at_losses, outward
from audit.optics.pupils import FIELD, HALF_WIDTH

GRID = (61, 41)
"""Columns and rows of a map."""
EDGES = (3, 3)
"""A map of the corners and the middles of the sides: enough for a verdict, since no side is cut first."""
OPEN_SIDE_MM = 1000.0
"""Rails limit across only; along them the opening is as good as endless."""
ASSUMED_GLASS_MM = 0.5
"""By how much a plate of unknown thickness, 1 to 3 mm, may shorten the way otherwise: half a millimetre of
glass at a field angle of 55 degrees, less on the axis. Common practice, no source."""

End = Literal["best", "middle", "worst"]


@dataclass(frozen=True)
class Geometry:
    """What of the frame enters: `sensor_err` relative, `distance_m` of the subject (inf: far away).

    `corrected` says whether the picture's distortion is: None where that is not known (a camera's JPEG).
    `paraxial_mm` is the focal length that the distortion was fitted with, where it is not the nominal one.
    """

    focal_length_mm: float
    f_number: float
    width_mm: float
    height_mm: float
    sensor_err: float = 0.0
    distance_m: float = float("inf")
    distortion: Distortion | None = None
    corrected: bool | None = None
    paraxial_mm: float | None = None

    @property
    def half_diagonal_mm(self) -> float:
        """From the axis to the corner of a centred picture."""
        return float(np.hypot(self.width_mm, self.height_mm)) / 2


def predict(rig: Rig, geometry: Geometry, lens: Lens | None, *, grid: tuple[int, int] = GRID) -> Prediction:
    """Predicts what a rig cuts. A lens that is not in the kit has the default depth of pupil."""
    return _worse_way(rig, geometry, lens, grid).prediction()


def edge_loss(rig: Rig, geometry: Geometry, lens: Lens | None, end: End) -> float:
    """Most that is lost on the picture's edge at one end of the band, and nothing else computed."""
    return most_on_the_edge(_worse_way(rig, geometry, lens, EDGES).losses(end))


def _worse_way(rig: Rig, geometry: Geometry, lens: Lens | None, grid: tuple[int, int]) -> _Setting:
    """An upright picture does not say to which side it was turned: of a shifted lens the worse counts."""
    shifts = [rig.shift_mm]
    if geometry.height_mm > geometry.width_mm and any(rig.shift_mm):
        shifts = [turned_shift(rig.shift_mm, degrees) for degrees in (90, 270)]
    made = [_Setting(rig, geometry, pupil_depth(lens, geometry), s, grid) for s in shifts]
    return made[0] if len(made) == 1 else max(made, key=lambda one: most_on_the_edge(one.losses("worst")))


class _Setting:
    """A rig in front of a lens for one frame; what is not asked for is not computed."""

    def __init__(
        self,
        rig: Rig,
        geometry: Geometry,
        depth: PupilDepth,
        shift_mm: tuple[float, float],
        grid: tuple[int, int],
    ) -> None:
        self._rig, self._depth, self._shift_mm = rig, depth, shift_mm
        self._pupil = pupil_of(geometry, depth)
        self._parts = parts_of(rig, upright=geometry.height_mm > geometry.width_mm)
        self._openings = [part.opening for part in self._parts]
        self._tan_x, self._tan_y, self._tangent_err = field_of(geometry, shift_mm, grid)
        if depth.told is not None:
            height = np.hypot(self._tan_x, self._tan_y)
            off = 1 - field_off(geometry, depth, height / height.max())
            self._tan_x, self._tan_y = self._tan_x * off, self._tan_y * off

    def prediction(self) -> Prediction:
        first = self._first()
        limits = [o.name for o in self._rig.openings]
        limits += [say("rails of {holder}", holder=r.name) for r in self._rig.rails]
        return Prediction(
            angle_deg=float(np.degrees(np.arctan(np.hypot(*self._direction)))),
            early_deg=self._early_deg,
            late_deg=self._late_deg,
            best=self.losses("best"),
            middle=self.losses("middle"),
            worst=self.losses("worst"),
            angles_deg=field_angles_at_losses(
                tuple(LADDER.values()), self._pupil, self._openings, self._direction
            ),
            limits=limits[first] if limits else "",
            assumed=_assumed(self._rig, self._depth, first),
        )

    def losses(self, end: End) -> Floats:
        """Map of the losses at one end of the band, or in its middle."""
        if end == "middle":
            x, y = self._tan_x, self._tan_y
        else:
            x, y = outward(self._tan_x, self._tan_y, self._early_deg if end == "worst" else -self._late_deg)
        return loss_stops(transmission(x, y, self._pupil, self._openings))

    @cached_property
    def _direction(self) -> tuple[float, float]:
        place = _least_room(self._rig, self._shift_mm, self._tan_x, self._tan_y, self._pupil, self._openings)
        return float(self._tan_x[place]), float(self._tan_y[place])

    @cached_property
    def _band(self) -> Band:
        onset_deg = field_angle_at_loss(ONSET_STOPS, self._pupil, self._openings, self._direction)
        return Band(self._pupil, self._depth, self._parts, self._direction, self._tangent_err, onset_deg)

    @cached_property
    def _early_deg(self) -> float:
        return self._band.early_deg()

    @cached_property
    def _late_deg(self) -> float:
        return self._band.late_deg()

    def _first(self) -> int:
        """Number of the opening that cuts first."""
        if len(self._openings) < 2:
            return 0
        alone = [field_angle_at_loss(ONSET_STOPS, self._pupil, [o], self._direction) for o in self._openings]
        return int(np.argmin(alone))


def _least_room(
    rig: Rig,
    shift_mm: tuple[float, float],
    tan_x: Floats,
    tan_y: Floats,
    pupil: Pupil,
    openings: Sequence[Opening],
) -> tuple[int, int]:
    """The corner that lies furthest beyond the cut, or nearest to it.

    Behind circles on the axis all are alike; turned rails and a shifted lens tell them apart. No side is
    cut before a corner: along a rail the bundle grows and its crossing drifts towards the cut.
    """
    alike = not any(shift_mm) and all(rails.turned_deg % 90 == 0 for rails in rig.rails)
    if alike:
        return CORNERS[0]

    def room_deg(place: tuple[int, int]) -> float:
        x, y = float(tan_x[place]), float(tan_y[place])
        onset = field_angle_at_loss(ONSET_STOPS, pupil, openings, (x, y))
        return onset - float(np.degrees(np.arctan(np.hypot(x, y))))

    return min(CORNERS, key=lambda place: (round(room_deg(place), 6), CORNERS.index(place)))


def pupil_depth(lens: Lens | None, geometry: Geometry) -> PupilDepth:
    """Entrance pupil behind the thread for a frame; the default for a lens that is not in the kit."""
    if lens is not None:
        return lens.pupil_at(geometry.focal_length_mm, geometry.f_number)
    return PupilDepth(PUPIL_DEPTH_MM, *PUPIL_BAND_MM, (marked("pupil depth of the lens"),))


def pupil_of(geometry: Geometry, depth: PupilDepth) -> Pupil:
    """The pupil with what was calibrated of its drift and growth, the default ones in place of the rest."""
    usual = default_pupil(
        geometry.focal_length_mm, geometry.f_number, depth.mm, half_diagonal_mm=geometry.half_diagonal_mm
    )
    return replace(
        usual,
        drift_mm=usual.drift_mm if depth.drift_mm is None else depth.drift_mm,
        radial_growth=usual.radial_growth if depth.growth is None else depth.growth,
    )


def parts_of(rig: Rig, *, upright: bool = False) -> list[ErrorSource]:
    """The rig's circles and rails for the model, each with its errors.

    This is the one place where the declaration's clockwise turns become turns from x towards y. `upright`:
    the picture is stored turned by a quarter, which a pair of rails sees alike from either side.
    """
    return [*(_circle(o) for o in rig.openings), *(_rails(r, upright) for r in rig.rails)]


def _circle(opening: RoundOpening) -> ErrorSource:
    radius_err, distance_err = _errors(opening)
    circle = Circle(opening.diameter_mm / 2, opening.distance_mm, glass_mm=opening.glass_mm)
    return ErrorSource(circle, radius_err, distance_err)


def _rails(rails: Rails, upright: bool) -> ErrorSource:
    width_err, distance_err = _errors(rails)
    turned = (90.0 if upright else 0.0) - rails.turned_deg
    box = Rectangle(rails.clear_width_mm, OPEN_SIDE_MM, rails.distance_mm, turned, glass_mm=rails.glass_mm)
    return ErrorSource(box, width_err, distance_err)


def _errors(part: RoundOpening | Rails) -> tuple[float, float]:
    across = ASSUMED_MM if part.assumed_across else GIVEN_MM
    along = ASSUMED_MM if part.assumed_along else GIVEN_MM
    glass = ASSUMED_GLASS_MM * len(part.assumed_glass)
    return math.hypot(across[0], part.across_err_mm), math.hypot(along[1], part.along_err_mm, glass)


def field_of(
    geometry: Geometry, shift_mm: tuple[float, float], grid: tuple[int, int] = GRID
) -> tuple[Floats, Floats, float]:
    """Field tangents of the picture's cells, and the relative error of the corner's, 95 %.

    A camera's JPEG may or may not be corrected for distortion: both maps' middle, half of their difference
    as an error.
    """
    tan_x, tan_y, spread = _bent(geometry, shift_mm, grid)
    return tan_x, tan_y, float(np.hypot.reduce((geometry.sensor_err, FOCAL_ERR, spread)))


def field_err(geometry: Geometry, height: ArrayLike) -> Floats:
    """Relative error of the field tangent, 95 %, at image heights in half diagonals.

    That of a focal length is alike everywhere; distortion grows with the square of the height.
    """
    spread = _bent(geometry, (0.0, 0.0), EDGES)[2] * np.square(np.asarray(height, dtype=float))
    return np.sqrt(geometry.sensor_err**2 + FOCAL_ERR**2 + spread**2)


def field_off(geometry: Geometry, depth: PupilDepth, height: ArrayLike) -> Floats:
    """By what share the field tangents taken for granted are too large, as calibration found."""
    sigmas = 0.0 if depth.told is None else float(depth.told.values[FIELD])
    return sigmas * field_err(geometry, height) / HALF_WIDTH


def _bent(
    geometry: Geometry, shift_mm: tuple[float, float], grid: tuple[int, int]
) -> tuple[Floats, Floats, float]:
    """The cells with the distortion that is known or perhaps there, and the corner's error from it."""

    def at(distortion: Distortion | None) -> tuple[Floats, Floats]:
        return field_map(
            geometry.width_mm,
            geometry.height_mm,
            geometry.focal_length_mm
            if distortion is None
            else geometry.paraxial_mm or geometry.focal_length_mm,
            *grid,
            distance_m=geometry.distance_m,
            shift_mm=shift_mm,
            distortion=distortion,
        )

    plain = at(None)
    if geometry.distortion is None:
        spread = distortion_err(geometry.half_diagonal_mm, geometry.focal_length_mm)
        tan_x, tan_y = plain
    elif geometry.corrected is None:
        bent = at(geometry.distortion)
        tan_x, tan_y = (plain[0] + bent[0]) / 2, (plain[1] + bent[1]) / 2
        spread = abs(float(np.hypot(*(a[0, 0] for a in bent)) / np.hypot(*(a[0, 0] for a in plain))) - 1) / 2
    else:
        tan_x, tan_y = plain if geometry.corrected else at(geometry.distortion)
        spread = 0.0
    return tan_x, tan_y, spread


def _assumed(rig: Rig, depth: PupilDepth, first: int) -> tuple[str, ...]:
    """What was assumed of the lens and of the opening that limits."""
    assumed = [*(o.assumed for o in rig.openings), *(r.assumed for r in rig.rails)]
    return tuple(dict.fromkeys((*depth.assumed, *(assumed[first] if assumed else ()))))
