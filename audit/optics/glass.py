"""A plane plate of glass or resin before the lens bends slanting light, which shortens the way through it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from audit.optics.arrays import Reals

PLATE_INDEX = 1.5
"""Refractive index of a filter, between resin and glass.

Acrylic 1.491 at 588 nm (refractiveindex.info, after Kasarova et al., Optical Materials 29, 2007), the resin
of spectacles 1.498 (an online encyclopedia, "CR-39"), crown glass 1.52 (a table at hypertextbook.com). That
filters are made of these: common practice, no source.
"""


def plate_shortening_mm(tangent: ArrayLike, thickness_mm: ArrayLike, index: ArrayLike = PLATE_INDEX) -> Reals:
    """By how much a plane plate shortens the way to every opening before it: t (1 - tan(a') / tan(a)).

    Light that comes in at the angle a goes on inside at a', sin(a) = n sin(a'), and leaves as it came. So
    it gains less height inside than air would give it, as if the way were that much shorter. On the axis
    that is t (1 - 1/n). Where the plate stands between the opening and the lens doesn't matter.

    Parameters
    ----------
    tangent : of the angle to the axis, 0 or more, any shape [1]
        NaN gives NaN.
    thickness_mm : of all plates together, any shape [mm]
    index : refractive index, 1 or more, any shape [1]

    Returns
    -------
    shortening, of the broadcast shape [mm]

    Source
    ------
    Law of refraction at two parallel faces. Worked example: Young and Freedman, University Physics, 14th
    ed., problem 33.54, as two web pages quote it.
    """
    square = np.square(np.asarray(tangent, dtype=float))
    thickness, n = np.asarray(thickness_mm, dtype=float), np.asarray(index, dtype=float)
    # tan(a') / tan(a), with the sines written as tangents: no division by 0 on the axis.
    ratio = 1 / np.sqrt(n * n + (n * n - 1) * square)
    return (thickness * (1 - ratio))[()]
