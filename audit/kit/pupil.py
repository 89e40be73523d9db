"""The entrance pupil of a lens of the kit: as written by hand, as calibrated, or as usual."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated, NamedTuple

import numpy as np
from pydantic import Field, model_validator

from audit.kit.part import Finite, NotNegative, Part, Positive, YesNo, rule
from audit.message.text import marked, say
from audit.optics.pupils import (
    DEPTH,
    DRIFT,
    FIELD,
    HALF_WIDTH,
    WIDE_OPEN_BELOW,
    Told,
    between,
    covariance_of,
    other_aperture,
)

PUPIL_DEPTH_MM, PUPIL_BAND_MM, PUPIL_ERR_MM = 24.0, (17.0, 32.0), 3.0
"""Entrance pupil behind the thread of a wide-angle lens of which nothing is known, and the error of one that
was given without: of thirteen traced ones (six of the reference and the half of benchmarks/lens_world that is
for tuning) ten lie within, two small symmetrical ones at 8 and 15 mm, and one at 33."""

OUTSIDE_PER_MM, SMALLEST_ERR_MM = 0.1, 0.05
"""Growth of the depth's error per mm of focal length outside those measured, and its floor: assumed."""

STOPPED_DOWN = 8.0
"""An f-number at which no rim of a lens stops part of the beam."""

BY_HAND = (
    "pupil_depth_mm",
    "pupil_depth_err_mm",
    "pupil_depths",
    "pupil_drift_mm",
    "pupil_drift_err_mm",
)
"""Keys of a lens that what was calibrated takes the place of."""

DepthAt = tuple[Positive, Finite, NotNegative]
Correlation = Annotated[float, Field(strict=True, ge=-1, le=1, allow_inf_nan=False)]


class PupilDepth(NamedTuple):
    """Entrance pupil behind the front edge of the thread, mm: best guess, band (95 %), what was assumed.

    `drift_mm` is the lens' own drift of the bundle's crossing, `growth` its radial growth, None where the
    default stands in; `calibrated` says whether the depth was measured to a stated error. `told` holds all
    that a calibration found, with its covariance.
    """

    mm: float
    low_mm: float
    high_mm: float
    assumed: tuple[str, ...]
    drift_mm: float | None = None
    drift_err_mm: float | None = None
    calibrated: bool = False
    growth: float | None = None
    told: Told | None = None


class CalibratedPupil(Part):
    """What `cornerstop calibrate` found at one focal length: all of it, since its errors hang together.

    `field` says by how many sigmas the field tangents taken for granted are off. `err` are 95 % half widths
    of depth, drift, growth and field; `together` are their correlations: of depth with drift, growth and
    field, of drift with growth and field, of growth with field.
    """

    focal_mm: Positive
    wide_open: YesNo = False
    depth_mm: Finite
    drift_mm: Finite
    growth: Finite
    field: Finite = 0.0
    err: tuple[NotNegative, NotNegative, NotNegative, NotNegative]
    together: tuple[Correlation, Correlation, Correlation, Correlation, Correlation, Correlation]

    @model_validator(mode="after")
    def _sense(self) -> CalibratedPupil:
        if float(np.linalg.eigvalsh(covariance_of((HALF_WIDTH,) * 4, self.together))[0]) < -0.02:
            words = marked("holds correlations that cannot be; let `cornerstop calibrate` write it anew")
            raise rule("together", words)
        return self

    @property
    def told(self) -> Told:
        """The numbers with their covariance."""
        values = np.array([self.depth_mm, self.drift_mm, self.growth, self.field])
        return Told(values, covariance_of(self.err, self.together))


def calibrated_pupil(
    found: Sequence[CalibratedPupil], focal_length_mm: float, f_number: float, lens_id: str
) -> PupilDepth:
    """The pupil at a focal length and f-number, from what was calibrated at others."""
    wide_open = f_number < WIDE_OPEN_BELOW
    mine = sorted((one for one in found if one.wide_open == wide_open), key=lambda one: one.focal_mm)
    others = sorted(found, key=lambda one: one.focal_mm)
    measured = [(one.focal_mm, one.told) for one in mine or others]
    told = between(measured, focal_length_mm, OUTSIDE_PER_MM / HALF_WIDTH)
    assumed = []
    if not mine:
        told = other_aperture(told, to_wide_open=wide_open)
        words = (
            marked("pupil of {name} wide open, where it was not calibrated")
            if wide_open
            else marked("pupil of {name} stopped down, where it was not calibrated")
        )
        assumed.append(say(words, name=lens_id))
    if not measured[0][0] * 0.99 <= focal_length_mm <= measured[-1][0] * 1.01:
        assumed.append(say("pupil depth of {name} outside the focal lengths measured", name=lens_id))
    depth, drift, growth = told.values.tolist()[:FIELD]
    depth_err, drift_err = (HALF_WIDTH * math.sqrt(float(told.covariance[n, n])) for n in (DEPTH, DRIFT))
    band = depth, depth - depth_err, depth + depth_err
    return PupilDepth(*band, tuple(assumed), drift, drift_err, True, growth, told)


def depth_line(points: Sequence[DepthAt], focal_length_mm: float) -> tuple[float, float, float]:
    """Depth, its error and how far the focal length lies outside the points, all in mm.

    A weighted straight line; one point is a constant. The error is the line's own or the neighbours',
    whichever is larger (a caliper's error is common to all points, so that it does not average out), plus
    what the points miss the line by, plus OUTSIDE_PER_MM outside.
    """
    focals, depths, errs = (np.array(column, dtype=float) for column in zip(*sorted(points), strict=True))
    outside = max(focals[0] - focal_length_mm, focal_length_mm - focals[-1], 0.0)
    near = float(np.interp(focal_length_mm, focals, errs))
    if len(points) == 1:
        return float(depths[0]), near + OUTSIDE_PER_MM * outside, outside
    weight = np.maximum(errs, SMALLEST_ERR_MM) ** -2.0
    middle = float(weight @ focals / weight.sum())
    spread = float(weight @ (focals - middle) ** 2)
    slope = float(weight @ ((focals - middle) * depths)) / spread
    level = float(weight @ depths / weight.sum())
    own = math.sqrt(1 / weight.sum() + (focal_length_mm - middle) ** 2 / spread)
    missed = float(np.max(np.abs(depths - level - slope * (focals - middle))))
    err = max(own, near) + missed + OUTSIDE_PER_MM * outside
    return level + slope * (focal_length_mm - middle), err, outside
