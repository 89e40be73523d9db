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


def band_deg(
    pupil: Pupil,
    depth: PupilDepth,
    parts: Sequence[ErrorSource],
    direction: tuple[float, float],
    corner_tangent: float,
    tangent_err: float,
) -> tuple[float, float]:
    """(early, late): degrees by which the cut may come earlier, and later, than predicted.

    `tangent_err` is the relative error of the corner's field tangent: sensor, focal length, distortion.
    """
    openings = [part.opening for part in parts]

    def onset(changed: Pupil, there: Sequence[Opening]) -> float:
        return field_angle_at_loss(ONSET_STOPS, changed, there, direction)

    middle = onset(pupil, openings)
    drift = pupil.drift_mm / depth.mm if depth.mm else 0.0
    deep = replace(pupil, depth_mm=depth.high_mm, drift_mm=drift * depth.high_mm)
    shallow = replace(pupil, depth_mm=depth.low_mm, drift_mm=drift * depth.low_mm)
    field = np.degrees(tangent_err * corner_tangent / (1 + corner_tangent**2))
    model = (
        MODEL_DEG if not depth.calibrated else CALIBRATED_DEG if depth.drift_mm is None else WITH_DRIFT_DEG
    )
    early = (
        middle - onset(deep, openings),
        middle - onset(pupil, [p.moved(-1) for p in parts]),
        field,
        model,
    )
    late = (
        onset(shallow, openings) - middle,
        onset(pupil, [p.moved(1) for p in parts]) - middle,
        field,
        model,
    )
    return float(np.hypot.reduce(early)), float(np.hypot.reduce(late))


def distortion_err(half_diagonal_mm: float, focal_length_mm: float) -> float:
    """Relative error of the corner's field tangent where the lens' distortion is not known."""
    return float(np.interp(half_diagonal_mm / focal_length_mm, *DISTORTION_ERR))
