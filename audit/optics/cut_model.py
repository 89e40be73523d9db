"""Where cuts should lie, by the pupils of their focal lengths, and how far each reading may be off.

Cuts of one focal length share a pupil, those wide open another one: there rims of the lens stop part of the
beam. Errors are alike in more than one cut (a bore, the camera's tone curve), which their covariance holds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from audit.optics.arrays import Floats
from audit.optics.corners import Circle, Opening, Pupil, default_pupil
from audit.optics.cuts import Cut, Part
from audit.optics.onset import field_angle_at_loss
from audit.optics.pupils import DEPTH, GROWTH, WIDE_OPEN_BELOW, prior

MODEL_DEG, MODEL_WIDE_OPEN_DEG = 0.1, 0.27
"""1 sigma of what the model leaves of an onset on traced lenses, stopped down and wide open."""
SAME_RADIUS_DEG, OTHER_F_NUMBER = 2.0, 0.4
"""Cuts nearer to each other than about this share the model's error, those at another f-number less of it:
at f/2.8 a rim takes more than at f/4."""
QUARTIC_MM = 0.6
"""1 sigma of what the depth moves with the fourth power of the field tangent, which is not fitted."""
FAR_APART = 1.10
"""Focal lengths whose ratio is larger have each a pupil of their own."""
TONE_ERR = 0.2
"""1 sigma of the share by which an unknown JPEG tone curve misreads a loss, alike in all frames of a camera.

Brackets of real cameras read with the same curve: 0.1 and less; our own steepest invented curve: 0.25.
"""
SAME_FRAME = 0.7
"""Correlation of the errors of measuring two losses in one frame: both hang on its uncut level."""
STEPS = np.array([0.2, 0.2, 0.05])
"""Of depth, drift and growth, by which slopes are found."""
PART_STEP_MM, TONE_STEP = 0.3, 0.1


@dataclass(frozen=True)
class CutModel:
    """The cuts of one lens; every prediction in degrees.

    Attributes
    ----------
    cuts : in any order [-]
    half_diagonal_mm : of the picture [mm]
    """

    cuts: tuple[Cut, ...]
    half_diagonal_mm: float

    @cached_property
    def seen(self) -> Floats:
        """Angle of every cut as read [deg]."""
        return np.array([c.angle_deg for c in self.cuts])

    @cached_property
    def focal_number(self) -> NDArray[np.intp]:
        """Number of the focal length of each cut: a new one where it jumps by more than FAR_APART [-]."""
        number, first, of = -1, 0.0, {}
        for focal in sorted({cut.focal_length_mm for cut in self.cuts}):
            if number < 0 or focal > FAR_APART * first:
                number, first = number + 1, focal
            of[focal] = number
        return np.array([of[cut.focal_length_mm] for cut in self.cuts])

    @cached_property
    def _keys(self) -> list[tuple[int, bool]]:
        wide_open = [cut.f_number < WIDE_OPEN_BELOW for cut in self.cuts]
        return list(zip(self.focal_number.tolist(), wide_open, strict=True))

    @cached_property
    def groups(self) -> list[tuple[int, bool]]:
        """(number of the focal length, wide open) of every group of cuts that share a pupil [-]."""
        return sorted(set(self._keys))

    @cached_property
    def group(self) -> NDArray[np.intp]:
        """Number of the group of each cut [-]."""
        return np.array([self.groups.index(key) for key in self._keys])

    def focal_mm(self, group: int) -> float:
        """Mean focal length of a group.

        Parameters
        ----------
        group : its number [-]

        Returns
        -------
        mean of its cuts [mm]

        Source
        ------
        Definition of the mean.
        """
        return float(np.mean([self.cuts[i].focal_length_mm for i in np.flatnonzero(self.group == group)]))

    def nearest_depth(self, group: int, depths_mm: Floats) -> int:
        """Which of several depths comes nearest to a group's cuts, with the usual drift and growth.

        Parameters
        ----------
        group : its number [-]
        depths_mm : (n,) [mm]

        Returns
        -------
        number of the depth [-]

        Source
        ------
        Least squares.
        """
        mine = [self.cuts[i] for i in np.flatnonzero(self.group == group)]
        misses = [
            sum(
                (onset_deg(cut, self.usual(group, depth), self.half_diagonal_mm) - cut.angle_deg) ** 2
                for cut in mine
            )
            for depth in depths_mm.tolist()
        ]
        return int(np.argmin(misses))

    def usual(self, group: int, depth_mm: float) -> Floats:
        """A depth with the drift and growth that lenses have on average.

        Parameters
        ----------
        group : its number [-]
        depth_mm : [mm]

        Returns
        -------
        depth (mm), drift (mm) and growth [-]

        Source
        ------
        That of `prior`.
        """
        usual = prior(self.focal_mm(group), depth_mm, self.half_diagonal_mm)
        return np.array([depth_mm, usual.drift_mm, usual.growth])

    def predict(
        self,
        pupils: Floats,
        field: Floats,
        parts: Sequence[tuple[Part, ...]] | None = None,
        tone: float = 1.0,
    ) -> Floats:
        """Angle of every cut as it would be read, mean over its corners.

        Parameters
        ----------
        pupils : depth (mm), drift (mm) and growth of every group, (groups, 3) [-]
        field : by how many sigmas the field tangents of each focal length are off, (focal lengths,) [1]
        parts : worn in the place of each cut's own [-]
        tone : by how much losses are misread [1]

        Returns
        -------
        angles, (cuts,) [deg]

        Source
        ------
        That of `field_angle_at_loss`.
        """
        worn = [cut.parts for cut in self.cuts] if parts is None else parts
        angles = [
            _angle(cut, pupils[group], p, self.half_diagonal_mm, tone)
            for cut, group, p in zip(self.cuts, self.group, worn, strict=True)
        ]
        return np.array(angles) + field[self.focal_number] * self.field_slope

    @cached_property
    def field_slope(self) -> Floats:
        """Degrees by which an angle is read too large for each sigma of its field tangent, (cuts,) [deg]."""
        angle = np.radians(self.seen)
        return np.degrees(np.array([c.field_err for c in self.cuts]) * np.sin(angle) * np.cos(angle))

    def slopes(self, pupils: Floats, field: Floats, at: Floats) -> Floats:
        """Slope of each cut for each of its own pupil's three numbers.

        Parameters
        ----------
        pupils : as in `predict` [-]
        field : as there [1]
        at : what that predicts, (cuts,) [deg]

        Returns
        -------
        (cuts, 3), degrees per mm, per mm and per unit of growth [deg]

        Source
        ------
        Finite differences.
        """
        moved = [self.predict(pupils + step * np.eye(3)[n], field) for n, step in enumerate(STEPS)]
        return (np.stack(moved, axis=1) - at[:, None]) / STEPS

    def covariance(self, pupils: Floats, field: Floats, at: Floats, drift_slope: Floats) -> Floats:
        """How far readings and predictions may lie apart.

        Parameters
        ----------
        pupils : as in `predict` [-]
        field : as there [1]
        at : what that predicts, (cuts,) [deg]
        drift_slope : of each cut, (cuts,), degrees per mm [deg]

        Returns
        -------
        of measuring, the model and each piece's dimensions, (cuts, cuts) [deg^2]

        Source
        ------
        Own derivation.
        """
        near = np.exp(-0.5 * ((self.seen[:, None] - self.seen) / SAME_RADIUS_DEG) ** 2)
        model = np.where([wide for _, wide in self._keys], MODEL_WIDE_OPEN_DEG, MODEL_DEG)
        f_number = np.array([c.f_number for c in self.cuts])
        near *= np.where(f_number[:, None] == f_number, 1.0, OTHER_F_NUMBER)
        total = np.outer(model, model) * near * (self.group[:, None] == self.group)
        err, names = np.array([c.err_deg for c in self.cuts]), np.array([c.name for c in self.cuts])
        total += np.outer(err, err) * np.where(names[:, None] == names, SAME_FRAME, 0.0)
        total += np.diag((1 - SAME_FRAME) * err**2)
        tone = (self.predict(pupils, field, tone=1 + TONE_STEP) - at) / TONE_STEP * TONE_ERR
        quartic = QUARTIC_MM * drift_slope * np.tan(np.radians(self.seen)) ** 2
        for shared in (tone, quartic, *self._of_pieces(pupils, field, at)):
            total += np.outer(shared, shared)
        return np.asarray(total)

    def _of_pieces(self, pupils: Floats, field: Floats, at: Floats) -> list[Floats]:
        """What 1 sigma of each bore and each height moves the cuts by."""
        out, step = [], PART_STEP_MM
        for name, piece in {part.name: part for cut in self.cuts for part in cut.parts}.items():
            for err_mm, moved in ((piece.bore_err_mm, Part.wider), (piece.height_err_mm, Part.higher)):
                parts = [tuple(moved(p, step) if p.name == name else p for p in c.parts) for c in self.cuts]
                out.append((self.predict(pupils, field, parts) - at) / step * err_mm)
        return out


def onset_deg(cut: Cut, numbers: Floats, half_diagonal_mm: float) -> float:
    """Angle at which a frame of a rig would lose the level.

    Parameters
    ----------
    cut : the frame; its own angle does not count [-]
    numbers : depth (mm), drift (mm) and growth of the pupil [-]
    half_diagonal_mm : of the picture [mm]

    Returns
    -------
    mean angle over its corners; 90 where the loss is never reached [deg]

    Source
    ------
    That of `field_angle_at_loss`.
    """
    return _angle(cut, numbers, cut.parts, half_diagonal_mm)


def _angle(
    cut: Cut, numbers: Floats, parts: Sequence[Part], half_diagonal_mm: float, tone: float = 1.0
) -> float:
    """Mean angle over the corners; behind centred circles they are all alike."""
    depth_mm, drift_mm, growth = numbers.tolist()[DEPTH : GROWTH + 1]
    usual = default_pupil(cut.focal_length_mm, cut.f_number, depth_mm, half_diagonal_mm=half_diagonal_mm)
    pupil = replace(usual, drift_mm=drift_mm, radial_growth=growth)
    openings, directions = tuple(part.opening for part in parts), cut.directions
    if all(isinstance(o, Circle) and o.x_mm == o.y_mm == 0 for o in openings):
        directions = directions[:1]
    return float(np.mean([_one_angle(cut.level_stops * tone, pupil, openings, d) for d in directions]))


@lru_cache(maxsize=4096)
def _one_angle(
    level: float, pupil: Pupil, openings: tuple[Opening, ...], direction: tuple[float, float]
) -> float:
    """`field_angle_at_loss`, each answer kept."""
    return field_angle_at_loss(level, pupil, openings, direction)
