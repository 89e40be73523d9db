"""At which field angle a loss is first reached, going out from the axis in one direction."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from audit.optics.corners import Opening, Pupil, transmission

FARTHEST_DEG = 80.0
_COARSE, _FINE = 81, 201
_BLACK = 1e-6


def tangent_at_loss(
    loss_stops: float, pupil: Pupil, openings: Sequence[Opening], direction: tuple[float, float] = (1.0, 0.0)
) -> float:
    """Field tangent at which a loss is first reached, going out from the axis.

    Parameters
    ----------
    loss_stops : inf is black, which is a millionth of the light [stop]
    pupil : of the lens [-]
    openings : in front of it [-]
    direction : x and y; any length above 0 [1]

    Returns
    -------
    tangent; inf where the loss is never reached up to FARTHEST_DEG, or is NaN [1]

    Source
    ------
    Own derivation: looked for in steps of 1 degree and then of 0.005 degrees.
    """
    angle = field_angle_at_loss(loss_stops, pupil, openings, direction)
    return float(np.tan(np.radians(angle))) if angle < 90 else float("inf")


def field_angle_at_loss(
    loss_stops: float, pupil: Pupil, openings: Sequence[Opening], direction: tuple[float, float] = (1.0, 0.0)
) -> float:
    """Field angle at which a loss is first reached, going out from the axis.

    Parameters
    ----------
    loss_stops : inf is black, which is a millionth of the light [stop]
    pupil : of the lens [-]
    openings : in front of it [-]
    direction : x and y; any length above 0 [1]

    Returns
    -------
    angle; 90 where the loss is never reached up to FARTHEST_DEG, or is NaN [deg]

    Source
    ------
    Own derivation: looked for in steps of 1 degree and then of 0.005 degrees.
    """
    return field_angles_at_losses((loss_stops,), pupil, openings, direction)[0]


def field_angles_at_losses(
    losses_stops: Sequence[float],
    pupil: Pupil,
    openings: Sequence[Opening],
    direction: tuple[float, float] = (1.0, 0.0),
) -> tuple[float, ...]:
    """`field_angle_at_loss` of several losses, which share the look in steps of 1 degree.

    Parameters
    ----------
    losses_stops : as there [stop]
    pupil : of the lens [-]
    openings : in front of it [-]
    direction : x and y; any length above 0 [1]

    Returns
    -------
    angles, in the order of the losses [deg]

    Source
    ------
    That of `field_angle_at_loss`.
    """
    x, y = np.asarray(direction, dtype=float) / np.hypot(*direction)

    def passed(angles: np.ndarray) -> np.ndarray:
        tangents = np.tan(np.radians(angles))
        return transmission(tangents * x, tangents * y, pupil, openings)

    coarse = np.linspace(0.0, FARTHEST_DEG, _COARSE)
    through = passed(coarse)

    def angle(wanted: float) -> float:
        reached = int(np.argmax(through <= wanted))
        if not through[reached] <= wanted:
            return 90.0
        if reached == 0:
            return 0.0
        fine = np.linspace(coarse[reached - 1], coarse[reached], _FINE)
        there = passed(fine) <= wanted
        there[-1] = True  # as the steps of 1 degree found it
        return float(fine[np.argmax(there)])

    return tuple(angle(max(2.0**-loss, _BLACK)) for loss in losses_stops)


def outward(tan_x: np.ndarray, tan_y: np.ndarray, degrees: float) -> tuple[np.ndarray, np.ndarray]:
    """Field tangents moved away from the axis by an angle, along their own direction.

    Parameters
    ----------
    tan_x : any shape [1]
    tan_y : of the shape of `tan_x` [1]
    degrees : towards the axis when negative, at most onto it; outwards at most to 89 degrees [deg]

    Returns
    -------
    x and y; both NaN where either is [1]

    Source
    ------
    Geometry.
    """
    tangent = np.hypot(tan_x, tan_y)
    angle = np.clip(np.degrees(np.arctan(tangent)) + degrees, 0.0, 89.0)
    scale = np.tan(np.radians(angle)) / np.where(tangent > 0, tangent, 1.0)
    return tan_x * scale, tan_y * scale
