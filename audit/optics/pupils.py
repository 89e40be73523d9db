"""What is known of a lens' entrance pupil before and after it was calibrated, with how sure each is.

Four numbers stand for a pupil: its depth on the axis, its drift, its radial growth, and by how many sigmas
the field tangents taken for granted (focal length, sensor, distortion) are off. They are found together, and
what one cut cannot tell apart stays in their covariance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from audit.optics.arrays import Floats
from audit.optics.corners import default_pupil

DEPTH, DRIFT, GROWTH, FIELD = range(4)
"""Places of the four numbers: mm, mm, 1, sigmas of the field tangent."""
HALF_WIDTH = 1.96
WIDE_OPEN_BELOW = 5.0
"""f-numbers below which rims of the lens itself stop part of the beam in the corners: the two are fitted
apart. Traced lenses: the growth found at f/2.8 to f/4 lies up to 1.1 below that at f/8."""

DRIFT_SPREAD_MM, GROWTH_SPREAD, TAIL = 1.8, 0.6, 4.0
"""1 sigma of a lens' own drift and radial growth around the default, and the degrees of freedom of their
Student distributions: a lens may be far from all that were traced.

Twelve traced wide lenses (five of the reference and the half of benchmarks/lens_world that is for tuning):
drift -0.7 to 4.3 mm, growth 0.4 to 2.7.
"""
WIDE_OPEN_SHIFT = (0.25, 0.1, -0.4)
WIDE_OPEN_SPREAD = (0.5, 0.8, 0.4)
"""Depth, drift and growth wide open less those stopped down: mean and 1 sigma on the same lenses."""


class Told(NamedTuple):
    """A pupil with what is not known of it.

    Attributes
    ----------
    values : the four numbers, (4,) [-]
    covariance : of them, (4, 4) [-]
    """

    values: Floats
    covariance: Floats


@dataclass(frozen=True)
class Prior:
    """What lenses are like at one focal length: mean and 1 sigma of drift and growth.

    Attributes
    ----------
    drift_mm : [mm]
    drift_err_mm : [mm]
    growth : radial [1]
    growth_err : [1]
    """

    drift_mm: float
    drift_err_mm: float
    growth: float
    growth_err: float


def prior(focal_length_mm: float, depth_mm: float, half_diagonal_mm: float) -> Prior:
    """What lenses are like.

    Parameters
    ----------
    focal_length_mm : above 0 [mm]
    depth_mm : of the pupil on the axis [mm]
    half_diagonal_mm : of the picture [mm]

    Returns
    -------
    mean and 1 sigma of drift and growth [-]

    Source
    ------
    That of `default_pupil`.
    """
    usual = default_pupil(focal_length_mm, 8.0, depth_mm, half_diagonal_mm=half_diagonal_mm)
    # The drift of a normal lens is long because t is short there.
    far = max(1.0, usual.drift_mm / 5.0)
    return Prior(usual.drift_mm, DRIFT_SPREAD_MM * far, usual.radial_growth, GROWTH_SPREAD)


def other_aperture(told: Told, *, to_wide_open: bool) -> Told:
    """A pupil calibrated on one side of WIDE_OPEN_BELOW, as it is on the other.

    Parameters
    ----------
    told : as calibrated [-]
    to_wide_open : whether the other side is wide open [-]

    Returns
    -------
    the pupil there, less sure [-]

    Source
    ------
    Traced lenses.
    """
    values, covariance = told.values.copy(), told.covariance.copy()
    values[:FIELD] += np.array(WIDE_OPEN_SHIFT) * (1 if to_wide_open else -1)
    covariance[:FIELD, :FIELD] += np.diag(np.square(WIDE_OPEN_SPREAD))
    return Told(values, covariance)


def between(pupils: list[tuple[float, Told]], focal_length_mm: float, outside_mm_per_mm: float) -> Told:
    """A zoom's pupil at a focal length: a straight line between the two measured beside it.

    Parameters
    ----------
    pupils : (focal length in mm, pupil), by focal length, at least one [-]
    focal_length_mm : [mm]
    outside_mm_per_mm : growth of the depth's error (1 sigma) outside those measured [1]

    Returns
    -------
    the pupil; outside, the nearest one, less sure [-]

    Source
    ------
    Own derivation; errors of neighbours are taken to be common to both (a caliper's are).
    """
    focals = np.array([focal for focal, _ in pupils])
    at = int(np.clip(np.searchsorted(focals, focal_length_mm), 1, max(1, len(pupils) - 1)))
    low, high = pupils[at - 1], pupils[min(at, len(pupils) - 1)]
    apart = high[0] - low[0]
    share = float(np.clip((focal_length_mm - low[0]) / apart, 0, 1)) if apart > 0 else 0.0
    values = (1 - share) * low[1].values + share * high[1].values
    root = (1 - share) * root_of(low[1].covariance) + share * root_of(high[1].covariance)
    covariance = root @ root.T
    outside = max(focals[0] - focal_length_mm, focal_length_mm - focals[-1], 0.0)
    covariance[DEPTH, DEPTH] += (outside * outside_mm_per_mm) ** 2
    return Told(values, covariance)


def root_of(covariance: Floats) -> Floats:
    """Symmetric square root of a covariance.

    Parameters
    ----------
    covariance : (n, n) [-]

    Returns
    -------
    the root; what is negative by rounding counts as 0 [-]

    Source
    ------
    Linear algebra.
    """
    lengths, axes = np.linalg.eigh(covariance)
    return np.asarray((axes * np.sqrt(np.maximum(lengths, 0.0))) @ axes.T)


def covariance_of(errors: ArrayLike, together: ArrayLike) -> Floats:
    """Covariance from 95 % half widths and correlations.

    Parameters
    ----------
    errors : of n numbers [-]
    together : correlations of 1-2, 1-3, ..., 2-3, ...: n (n - 1) / 2 of them [1]

    Returns
    -------
    (n, n) [-]

    Source
    ------
    Definition of the correlation.
    """
    sigma = np.asarray(errors, dtype=float) / HALF_WIDTH
    alike = np.eye(len(sigma))
    rows, columns = np.triu_indices(len(sigma), 1)
    alike[rows, columns] = alike[columns, rows] = np.asarray(together, dtype=float)
    return np.asarray(np.outer(sigma, sigma) * alike)
