"""How far a predicted cut may lie from where it is: every uncertainty as degrees of field angle.

Near the edge of a cut at f/11 to f/22 two degrees turn clear into black, so the answer is the band. The
parts are independent and add as squares; each is found by computing the onset again with one thing changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from audit.kit.kit import PupilDepth
from audit.optics.corners import Circle, Opening, Pupil
from audit.optics.onset import field_angle_at_loss

ONSET_STOPS = 0.5
"""The loss whose place in the field stands for the cut's."""

MODEL_DEG, CALIBRATED_DEG, WITH_DRIFT_DEG = 1.2, 0.8, 0.6
"""95 % of the model's own error: with the paraxial pupil depth, with a depth calibrated from cuts, and with
depth and drift calibrated.

Six ray-traced lenses, the angles of 0.1, 0.5 and 1 stop behind 405 to 473 openings in the outer 40 % of the
picture: 95 % within 1.20, 0.76 and 0.57 degrees. On a sensor smaller than the lens' own format, down to 0.6
of it, the first two are 1.5 and 1.25.
"""

FOCAL_ERR = 0.04
"""Relative error of a nominal focal length, 95 %: the true ones of six traced lenses are 0 to 3.2 % longer
(14.42 for 14, 18.5 for 18, 51.6 for 50 mm), 2.2 % in the mean square."""

DISTORTION_ERR = ((0.42, 0.75, 1.5), (0.03, 0.06, 0.14))
"""Relative error of the corner's field tangent without distortion data, by half diagonal / focal length.

Six traced lenses: 1 % at 50 mm, -5 to +5 % from 18 to 29 mm, +14 % at 14 mm (barrel).
"""

GIVEN_MM, ASSUMED_MM = (0.2, 0.3), (1.0, 1.0)
"""Error of an opening's radius and distance: measured with a caliper, and left to a default (assumed)."""


@dataclass(frozen=True)
class ErrorSource:
    """An opening with the errors of its radius (or half width) and distance, mm."""

    opening: Opening
    radius_err_mm: float
    distance_err_mm: float

    def moved(self, sign: float) -> Opening:
        """The opening at the end of its errors that cuts more (-1) or less (+1)."""
        distance = self.opening.distance_mm - sign * self.distance_err_mm
        if isinstance(self.opening, Circle):
            radius = self.opening.radius_mm + sign * self.radius_err_mm
            return replace(self.opening, radius_mm=radius, distance_mm=distance)
        width = self.opening.width_mm + 2 * sign * self.radius_err_mm
        return replace(self.opening, width_mm=width, distance_mm=distance)


@dataclass(frozen=True)
class Band:
    """What may lie elsewhere: pupil, its depth, the openings in front of it, the corner's field tangent.

    `tangent_err` is the relative error of that tangent: sensor, focal length, distortion. The cut is
    predicted at `onset_deg`, in `direction`.
    """

    pupil: Pupil
    depth: PupilDepth
    parts: Sequence[ErrorSource]
    direction: tuple[float, float]
    tangent_err: float
    onset_deg: float

    def early_deg(self) -> float:
        """Degrees by which the cut may come earlier than predicted."""
        deep = self.onset_deg - self._at_depth(self.depth.high_mm)
        return float(np.hypot.reduce((deep, self.onset_deg - self._moved(-1), *self._others())))

    def late_deg(self) -> float:
        """Degrees by which it may come later."""
        shallow = self._at_depth(self.depth.low_mm) - self.onset_deg
        return float(np.hypot.reduce((shallow, self._moved(1) - self.onset_deg, *self._others())))

    def _at_depth(self, depth_mm: float) -> float:
        drift = self.pupil.drift_mm / self.depth.mm if self.depth.mm else 0.0
        there = replace(self.pupil, depth_mm=depth_mm, drift_mm=drift * depth_mm)
        return self._onset(there, [part.opening for part in self.parts])

    def _moved(self, sign: float) -> float:
        return self._onset(self.pupil, [part.moved(sign) for part in self.parts])

    def _onset(self, pupil: Pupil, openings: Sequence[Opening]) -> float:
        return field_angle_at_loss(ONSET_STOPS, pupil, openings, self.direction)

    def _others(self) -> tuple[float, float]:
        """The corner's own place in the field, and the model."""
        tangent = float(np.hypot(*self.direction))
        field = float(np.degrees(self.tangent_err * tangent / (1 + tangent**2)))
        if not self.depth.calibrated:
            return field, MODEL_DEG
        return field, CALIBRATED_DEG if self.depth.drift_mm is None else WITH_DRIFT_DEG


def distortion_err(half_diagonal_mm: float, focal_length_mm: float) -> float:
    """Relative error of the corner's field tangent where the lens' distortion is not known."""
    return float(np.interp(half_diagonal_mm / focal_length_mm, *DISTORTION_ERR))
