"""How far diffraction spreads a point of light, against the pixels that record it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from audit.optics.arrays import Reals

FIRST_ZERO = 2.43934
"""Diameter of the Airy disc's first dark ring in wavelengths times f-number: twice 1.21967, the first zero
of J1 over pi (any optics handbook; usually rounded to 2.44)."""
GREEN_UM = 0.55
"""Wavelength to which the eye is most sensitive, micrometres (CIE 1924: 555 nm, usually rounded)."""


def airy_diameter_um(f_number: ArrayLike, wavelength_um: ArrayLike = GREEN_UM) -> Reals:
    """Diameter of the Airy disc on the sensor, focused far away: 2.44 N lambda.

    Parameters
    ----------
    f_number : any shape [1]
        NaN gives NaN.
    wavelength_um : any shape [um]
        NaN gives NaN.

    Returns
    -------
    diameter of the first dark ring [um]

    Source
    ------
    Any optics handbook; Imaging Resource Guide, section 2.4, "The Airy Disk and Diffraction Limit".
    """
    return (FIRST_ZERO * np.asarray(f_number, dtype=float) * np.asarray(wavelength_um, dtype=float))[()]


def pixel_pitch_um(sensor_width_mm: ArrayLike, width_px: ArrayLike) -> Reals:
    """Distance between pixels of a sensor whose whole width the picture holds.

    Parameters
    ----------
    sensor_width_mm : any shape [mm]
        NaN gives NaN.
    width_px : width of the picture, any shape [px]
        NaN gives NaN.

    Returns
    -------
    pitch [um]

    Source
    ------
    Geometry.
    """
    return (1000.0 * np.asarray(sensor_width_mm, dtype=float) / np.asarray(width_px, dtype=float))[()]
