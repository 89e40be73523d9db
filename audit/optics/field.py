"""Picture area, crop factor and angle of view, rectilinear and focused at infinity.

All lengths in millimetres, all angles in degrees; every function takes numbers or arrays of one shape.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FULL_FRAME_DIAGONAL_MM = float(np.hypot(36.0, 24.0))
"""43.267 mm, the diagonal that "35 mm equivalent" refers to (CIPA DCG-001: equal diagonal angle)."""

Reals = np.float64 | NDArray[np.float64]


def diagonal_mm(width_mm: ArrayLike, height_mm: ArrayLike) -> Reals:
    """Diagonal of a picture area."""
    return np.hypot(np.asarray(width_mm, dtype=float), np.asarray(height_mm, dtype=float))[()]


def half_diagonal_mm(width_mm: ArrayLike, height_mm: ArrayLike) -> Reals:
    """Distance from the optical axis to the corner of a centred picture area."""
    return diagonal_mm(width_mm, height_mm) / 2.0


def angle_of_view_deg(extent_mm: ArrayLike, focal_length_mm: ArrayLike) -> Reals:
    """Full angle seen across an extent (width, height or diagonal): 2 atan(extent / 2f)."""
    ratio = np.asarray(extent_mm, dtype=float) / (2.0 * np.asarray(focal_length_mm, dtype=float))
    return (2.0 * np.degrees(np.arctan(ratio)))[()]


def crop_factor(width_mm: ArrayLike, height_mm: ArrayLike) -> Reals:
    """How many times longer the 35 mm equivalent focal length is: 43.267 mm / diagonal."""
    return FULL_FRAME_DIAGONAL_MM / diagonal_mm(width_mm, height_mm)


def diagonal_from_equivalent_mm(focal_length_mm: ArrayLike, focal_length_35mm: ArrayLike) -> Reals:
    """Diagonal of the picture area from focal length and 35 mm equivalent: 43.267 f / f_eq."""
    real, equivalent = np.asarray(focal_length_mm, dtype=float), np.asarray(focal_length_35mm, dtype=float)
    return (FULL_FRAME_DIAGONAL_MM * real / equivalent)[()]


def equivalent_error(focal_length_35mm: ArrayLike) -> Reals:
    """Relative error of a whole-number 35 mm equivalent, half a millimetre: 3.6 % at 14 mm."""
    return (0.5 / np.asarray(focal_length_35mm, dtype=float))[()]


def sides_from_diagonal_mm(diagonal: ArrayLike, aspect: ArrayLike) -> tuple[Reals, Reals]:
    """Long and short side of an area from its diagonal and aspect (long / short, 1 or more)."""
    ratio = np.asarray(aspect, dtype=float)
    short = np.asarray(diagonal, dtype=float) / np.hypot(ratio, 1.0)
    return (short * ratio)[()], short[()]


def largest_inside_mm(long_mm: float, short_mm: float, aspect: float) -> tuple[float, float]:
    """Long and short side of the largest area of an aspect (long / short) inside a sensor."""
    if aspect >= long_mm / short_mm:
        return long_mm, long_mm / aspect
    return short_mm * aspect, short_mm
