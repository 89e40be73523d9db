"""How far a predicted cut may lie from where it is: every uncertainty as degrees of field angle.

Near the edge of a cut at f/11 to f/22 two degrees turn clear into black, so the answer is the band. The
parts are independent and add as squares; each is found by computing the onset again with one thing changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from audit.kit.pupil import PupilDepth
from audit.optics.corners import Circle, Opening, Pupil
from audit.optics.cut_model import MODEL_DEG as FITTED_DEG
from audit.optics.cut_model import MODEL_WIDE_OPEN_DEG, STEPS
from audit.optics.onset import field_angle_at_loss
from audit.optics.pupils import DEPTH, DRIFT, GROWTH, HALF_WIDTH, WIDE_OPEN_BELOW

ONSET_STOPS = 0.5
"""The loss whose place in the field stands for the cut's."""

MODEL_DEG, BY_HAND_DEG, WITH_DRIFT_DEG = 1.2, 0.8, 0.6
"""95 % of the model's own error: with a depth taken for granted, with a depth found by other means, and with
depth and drift so found.

Six ray-traced lenses, the angles of 0.1, 0.5 and 1 stop behind 405 to 473 openings in the outer 40 % of the
picture: 95 % within 1.20, 0.76 and 0.57 degrees. On a sensor smaller than the lens' own format, down to 0.6
of it, the first two are 1.5 and 1.25.
"""

FOCAL_ERR = 0.05
"""Relative error of the field tangent where the distortion is known, 95 %: the true focal lengths of six
traced lenses are 0 to 3.2 % longer than the nominal ones (14.42 for 14, 18.5 for 18, 51.6 for 50 mm), and the
corner's distortion leaves up to 3 % where that of the lens is wavy (traced ones of benchmarks/lens_world)."""

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
        return float(np.hypot.reduce((self.onset_deg - self._moved(-1), *self._pupil_deg(-1))))

    def late_deg(self) -> float:
        """Degrees by which it may come later."""
        return float(np.hypot.reduce((self._moved(1) - self.onset_deg, *self._pupil_deg(1))))

    def _pupil_deg(self, sign: int) -> tuple[float, ...]:
        """The pupil, the corner's own place in the field, and the model."""
        if self.depth.told is not None:
            return self._calibrated_deg, HALF_WIDTH * self._model_deg
        moved = self._at_depth(self.depth.high_mm if sign < 0 else self.depth.low_mm) - self.onset_deg
        model = MODEL_DEG
        if self.depth.calibrated:
            model = BY_HAND_DEG if self.depth.drift_mm is None else WITH_DRIFT_DEG
        return sign * moved, self._field_deg, model

    @cached_property
    def _calibrated_deg(self) -> float:
        """What a calibration leaves open, all its errors together as they hang together.

        The field tangents (focal length, sensor, distortion) are among them: what calibration saw through
        that lens is not added again.
        """
        assert self.depth.told is not None
        pupil = self.pupil
        moved = (
            replace(pupil, depth_mm=pupil.depth_mm + STEPS[DEPTH]),
            replace(pupil, drift_mm=pupil.drift_mm + STEPS[DRIFT]),
            replace(pupil, radial_growth=pupil.radial_growth + STEPS[GROWTH]),
        )
        onsets = np.array([self._onset(one, self._openings) for one in moved])
        slope = np.append((onsets - self.onset_deg) / STEPS, self._field_deg / HALF_WIDTH)
        return HALF_WIDTH * float(np.sqrt(slope @ self.depth.told.covariance @ slope))

    @property
    def _model_deg(self) -> float:
        return MODEL_WIDE_OPEN_DEG if self.pupil.f_number < WIDE_OPEN_BELOW else FITTED_DEG

    def _at_depth(self, depth_mm: float) -> float:
        drift = self.pupil.drift_mm / self.depth.mm if self.depth.mm else 0.0
        there = replace(self.pupil, depth_mm=depth_mm, drift_mm=drift * depth_mm)
        return self._onset(there, self._openings)

    def _moved(self, sign: float) -> float:
        return self._onset(self.pupil, [part.moved(sign) for part in self.parts])

    @property
    def _openings(self) -> list[Opening]:
        return [part.opening for part in self.parts]

    def _onset(self, pupil: Pupil, openings: Sequence[Opening]) -> float:
        return field_angle_at_loss(ONSET_STOPS, pupil, openings, self.direction)

    @property
    def _field_deg(self) -> float:
        """95 % of the corner's own place in the field."""
        tangent = float(np.hypot(*self.direction))
        return float(np.degrees(self.tangent_err * tangent / (1 + tangent**2)))


def distortion_err(half_diagonal_mm: float, focal_length_mm: float) -> float:
    """Relative error of the corner's field tangent where the lens' distortion is not known."""
    return float(np.interp(half_diagonal_mm / focal_length_mm, *DISTORTION_ERR))
