"""The lens' own fall of light towards the corners, beside what an opening in front of it cuts.

It is never added to a mechanical loss: a camera's JPEG may have been corrected for it. Losses are stops,
positive where the corner is darker than the centre.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from audit.optics.arrays import Floats

COVERED = 1.02
"""A calibration's sensor this much too small still counts as the camera's: crop factors are rounded."""


def cos4_loss_stops(tangent: ArrayLike) -> Floats:
    """Loss by the cos^4 law: 4 log2(1 / cos) = 2 log2(1 + tangent^2).

    A lens whose entrance pupil grows off the axis, as in every wide lens for a mirror camera, loses less.

    Parameters
    ----------
    tangent : of the field angle, any shape [1]
        NaN gives NaN.

    Returns
    -------
    loss against the centre, of the shape of `tangent` [stop]

    Source
    ------
    stason.org, lenses FAQ, no. 18.
    """
    return np.asarray(2 * np.log2(1 + np.square(np.asarray(tangent, dtype=float))))


@dataclass(frozen=True)
class Falloff:
    """The "pa" polynomial of the open lens data: light at r = 1 + k1 r^2 + k2 r^4 + k3 r^6.

    r is the distance from the axis by `half_diagonal_mm`. Source: lensfun manual, "lfVignettingModel" (the
    corrected value is the picture's divided by this).

    Attributes
    ----------
    k1 : coefficient of r^2 [1]
    k2 : coefficient of r^4 [1]
    k3 : coefficient of r^6 [1]
    half_diagonal_mm : of the sensor that the lens was measured with [mm]
    """

    k1: float
    k2: float
    k3: float
    half_diagonal_mm: float

    def loss_stops(self, height_mm: ArrayLike) -> Floats:
        """Loss at distances from the axis: -log2 of the light there.

        Parameters
        ----------
        height_mm : from the axis, any shape [mm]
            NaN gives NaN.

        Returns
        -------
        loss against the axis, of the shape of `height_mm` [stop]
            NaN beyond what was measured, and where the polynomial leaves no light.

        Source
        ------
        lensfun manual, "lfVignettingModel".
        """
        r2 = np.square(np.asarray(height_mm, dtype=float) / self.half_diagonal_mm)
        light = 1 + r2 * (self.k1 + r2 * (self.k2 + r2 * self.k3))
        known = (r2 <= COVERED**2) & (light > 0)
        return np.asarray(np.where(known, -np.log2(np.where(known, light, 1.0)), np.nan))


class Seen(Protocol):
    """What of a frame the falloff depends on."""

    @property
    def focal_length_mm(self) -> float:
        """Focal length as written [mm]."""

    @property
    def f_number(self) -> float:
        """Aperture [1]."""

    @property
    def distance_m(self) -> float:
        """Distance of the subject, inf where it is far away or unknown [m]."""

    @property
    def half_diagonal_mm(self) -> float:
        """From the axis to the corner [mm]."""


class Measured(Protocol):
    """A lens whose falloff was measured."""

    def falloff(self, focal_length_mm: float, f_number: float, distance_m: float) -> Falloff | None:
        """Falloff at a setting.

        Parameters
        ----------
        focal_length_mm : as written [mm]
        f_number : aperture [1]
        distance_m : of the subject, inf where it is far away or unknown [m]

        Returns
        -------
        falloff; None where nobody measured it [-]

        Source
        ------
        The lens data that answers.
        """


def natural_falloff_stops(seen: Seen, data: Measured) -> float | None:
    """Loss in a frame's corner by what was measured of its lens.

    Parameters
    ----------
    seen : setting and sensor of the frame [-]
    data : the lens [-]

    Returns
    -------
    loss against the centre; None where the data do not cover this setting or this sensor [stop]

    Source
    ------
    That of `Falloff`.
    """
    falloff = data.falloff(seen.focal_length_mm, seen.f_number, seen.distance_m)
    if falloff is None:
        return None
    loss = float(falloff.loss_stops(seen.half_diagonal_mm))
    return loss if np.isfinite(loss) else None
