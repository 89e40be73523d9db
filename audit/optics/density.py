"""What a filter costs: stops, density and filter factor, converted exactly.

One stop halves the light: factor = 2^stops = 10^density, so density 0.3 is 0.9966 stops; the trade rounds
it to 1. Source of the definitions: camera-wiki.org "Neutral density filter".
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from audit.optics.arrays import Reals

DENSITY_PER_STOP = float(np.log10(2.0))
"""Optical density of exactly one stop, 0.30103."""

TRADE_DENSITY_PER_STOP = 0.3
"""The trade's rounding of it: density 3.0 is sold as 10 stops."""


def stops_from_density(density: ArrayLike) -> Reals:
    """Stops lost behind an optical density (a base-10 logarithm): density / log10(2).

    Parameters
    ----------
    density : any shape [1]
        NaN gives NaN.

    Returns
    -------
    stops, of the shape of `density` [stop]

    Source
    ------
    Definition of optical density, ISO 5-1; camera-wiki.org, "Neutral density filter".
    """
    return np.asarray(density, dtype=float)[()] / DENSITY_PER_STOP


def density_from_stops(stops: ArrayLike) -> Reals:
    """Optical density of a loss in stops: stops * log10(2).

    Parameters
    ----------
    stops : any shape [stop]
        NaN gives NaN.

    Returns
    -------
    density, of the shape of `stops` [1]

    Source
    ------
    Definition of optical density, ISO 5-1; camera-wiki.org, "Neutral density filter".
    """
    return np.asarray(stops, dtype=float)[()] * DENSITY_PER_STOP


def stops_from_factor(factor: ArrayLike) -> Reals:
    """Stops of a filter factor: log2(factor).

    Parameters
    ----------
    factor : how many times longer the exposure is, above 0, any shape [1]
        NaN and less than 0 give NaN, 0 gives minus infinity.

    Returns
    -------
    stops, of the shape of `factor` [stop]

    Source
    ------
    Definition of the filter factor: camera-wiki.org, "Neutral density filter".
    """
    return np.log2(np.asarray(factor, dtype=float))[()]


def factor_from_stops(stops: ArrayLike) -> Reals:
    """Filter factor of a loss in stops: 2^stops.

    Parameters
    ----------
    stops : any shape [stop]
        NaN gives NaN.

    Returns
    -------
    factor, of the shape of `stops` [1]

    Source
    ------
    Definition of the filter factor: camera-wiki.org, "Neutral density filter".
    """
    return np.exp2(np.asarray(stops, dtype=float))[()]


def trade_stops(density: ArrayLike) -> Reals:
    """Stops as the trade counts them, 0.3 of density to a stop: 10 for density 3.0, exactly 9.97.

    Parameters
    ----------
    density : any shape [1]
        NaN gives NaN.

    Returns
    -------
    stops, of the shape of `density` [stop]

    Source
    ------
    Nominal series: camera-wiki.org, "Neutral density filter"; opticalglasscn.com/ND.php.
    """
    return np.asarray(density, dtype=float)[()] / TRADE_DENSITY_PER_STOP
