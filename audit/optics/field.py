"""Picture area, crop factor, angle of view, and the field tangents of every point of a picture.

All lengths in millimetres, all angles in degrees, subject distances in metres; the functions of one number
take numbers or arrays of one shape. Axes: x right, y up in the picture as it is seen.

A holder's turn and a lens' shift are declared on the camera body, so corner loss belongs to the picture
that the sensor takes (landscape), not to the scene. A file that is stored as the sensor read it (its
orientation tag says how to show it) is that picture: `field_map` of its sides needs no turning, and
`upright` says how to turn the result for showing and cropping. A file that was turned before it was stored
(taller than wide, its sensor sides swapped in the table) does not say to which side it was turned: its map
is that of its stored sides with rig and shift turned by 90 (or by 270, `turned_shift`); rings, rails and
everything else that looks the same from either side give one map, the rest two, of which the worse counts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from audit.optics.arrays import Floats, Reals
from audit.optics.distortion import Distortion as Distortion

FULL_FRAME_DIAGONAL_MM = float(np.hypot(36.0, 24.0))
"""43.267 mm, the diagonal that "35 mm equivalent" refers to (CIPA DCG-001: equal diagonal angle)."""


def diagonal_mm(width_mm: ArrayLike, height_mm: ArrayLike) -> Reals:
    """Diagonal of a picture area.

    Parameters
    ----------
    width_mm : any shape [mm]
    height_mm : any shape [mm]

    Returns
    -------
    diagonal; NaN where a side is NaN [mm]

    Source
    ------
    Geometry.
    """
    return np.hypot(np.asarray(width_mm, dtype=float), np.asarray(height_mm, dtype=float))[()]


def half_diagonal_mm(width_mm: ArrayLike, height_mm: ArrayLike) -> Reals:
    """Distance from the optical axis to the corner of a centred picture area.

    Parameters
    ----------
    width_mm : any shape [mm]
    height_mm : any shape [mm]

    Returns
    -------
    half the diagonal; NaN where a side is NaN [mm]

    Source
    ------
    Geometry.
    """
    return diagonal_mm(width_mm, height_mm) / 2.0


def angle_of_view_deg(extent_mm: ArrayLike, focal_length_mm: ArrayLike) -> Reals:
    """Full angle seen across an extent, rectilinear and focused far away: 2 atan(extent / 2 f).

    Parameters
    ----------
    extent_mm : width, height or diagonal, any shape [mm]
    focal_length_mm : any shape [mm]

    Returns
    -------
    angle; NaN where either is NaN [deg]

    Source
    ------
    Geometry; as photonstophotos.net, "Field of View Values for Common Focal Lengths" (2006), to 0.06 degrees.
    """
    ratio = np.asarray(extent_mm, dtype=float) / (2.0 * np.asarray(focal_length_mm, dtype=float))
    return (2.0 * np.degrees(np.arctan(ratio)))[()]


def crop_factor(width_mm: ArrayLike, height_mm: ArrayLike) -> Reals:
    """How many times longer the 35 mm equivalent focal length is: 43.267 mm / diagonal.

    Parameters
    ----------
    width_mm : any shape [mm]
    height_mm : any shape [mm]

    Returns
    -------
    crop factor; NaN where a side is NaN [1]

    Source
    ------
    CIPA DCG-001, equal diagonal angle; camerapedia, "35 mm equivalent", for 43.27 mm.
    """
    return FULL_FRAME_DIAGONAL_MM / diagonal_mm(width_mm, height_mm)


def diagonal_from_equivalent_mm(focal_length_mm: ArrayLike, focal_length_35mm: ArrayLike) -> Reals:
    """Diagonal of the picture area from focal length and 35 mm equivalent: 43.267 f / f_eq.

    Parameters
    ----------
    focal_length_mm : f, any shape [mm]
    focal_length_35mm : f_eq, any shape [mm]

    Returns
    -------
    diagonal; NaN where either is NaN [mm]

    Source
    ------
    CIPA DCG-001, equal diagonal angle; camerapedia, "35 mm equivalent", for 43.27 mm.
    """
    real, equivalent = np.asarray(focal_length_mm, dtype=float), np.asarray(focal_length_35mm, dtype=float)
    return (FULL_FRAME_DIAGONAL_MM * real / equivalent)[()]


def equivalent_error(focal_length_35mm: ArrayLike) -> Reals:
    """Relative error of a whole-number 35 mm equivalent, half a millimetre: 3.6 % at 14 mm.

    Parameters
    ----------
    focal_length_35mm : any shape [mm]
        NaN gives NaN.

    Returns
    -------
    largest error of rounding as a share [1]

    Source
    ------
    Own derivation: whole millimetres are off by half a millimetre at most.
    """
    return (0.5 / np.asarray(focal_length_35mm, dtype=float))[()]


def sides_from_diagonal_mm(diagonal: ArrayLike, aspect: ArrayLike) -> tuple[Reals, Reals]:
    """Long and short side of an area from its diagonal and aspect.

    Parameters
    ----------
    diagonal : any shape [mm]
    aspect : long / short, 1 or more, any shape [1]

    Returns
    -------
    long and short side; both NaN where either is NaN [mm]

    Source
    ------
    Geometry.
    """
    ratio = np.asarray(aspect, dtype=float)
    short = np.asarray(diagonal, dtype=float) / np.hypot(ratio, 1.0)
    return (short * ratio)[()], short[()]


def largest_inside_mm(long_mm: float, short_mm: float, aspect: float) -> tuple[float, float]:
    """Long and short side of the largest area of an aspect inside a sensor.

    Parameters
    ----------
    long_mm : of the sensor [mm]
    short_mm : of the sensor [mm]
    aspect : long / short, 1 or more; not NaN [1]

    Returns
    -------
    long and short side [mm]

    Source
    ------
    Geometry.
    """
    if aspect >= long_mm / short_mm:
        return long_mm, long_mm / aspect
    return short_mm * aspect, short_mm


def magnification(distance_m: float, focal_length_mm: float) -> float:
    """Size of the picture by size of the subject, thin lens: f / (s - f).

    Cameras do not say whether they count the distance from the sensor: at 16 mm and half a metre that is
    0.1 % of the field's tangent.

    Parameters
    ----------
    distance_m : of the subject from the lens, inf where it is far away [m]
    focal_length_mm : f [mm]

    Returns
    -------
    magnification; 0 at infinity [1]

    Raises
    ------
    ValueError
        For a subject nearer than twice the focal length (life size), where no lens of this use is, and for
        NaN.

    Source
    ------
    Thin lens, 1/f = 1/s + 1/v and m = v/s: any textbook of optics.
    """
    distance_mm = 1000 * distance_m
    if not distance_mm >= 2 * focal_length_mm:
        raise ValueError(f"{distance_m:g} m is nearer than twice the focal length ({focal_length_mm:g} mm)")
    return focal_length_mm / (distance_mm - focal_length_mm)


def field_map(
    width_mm: float,
    height_mm: float,
    focal_length_mm: float,
    columns: int = 61,
    rows: int = 41,
    *,
    distance_m: float = np.inf,
    shift_mm: tuple[float, float] = (0.0, 0.0),
    distortion: Distortion | None = None,
) -> tuple[Floats, Floats]:
    """Field tangents of a grid over the picture.

    The outermost cells' centres lie on the picture's edge: the corners are cells. Focus moves a thin lens
    away from the sensor by its magnification; lenses that focus inside keep more of their field.

    Parameters
    ----------
    width_mm : of the picture as stored [mm]
    height_mm : of the picture as stored [mm]
    focal_length_mm : [mm]
    columns : of the grid [1]
    rows : of the grid [1]
    distance_m : of the subject, inf where it is far away [m]
    shift_mm : how far the lens is moved to the right and up against the sensor, in the picture's axes [mm]
        A raised lens sees more sky.
    distortion : of the lens, None for rectilinear [-]

    Returns
    -------
    x and y, arrays of (rows, columns), row 0 at the picture's top; NaN sides and shifts give NaN [1]

    Raises
    ------
    ValueError
        As `magnification`.

    Source
    ------
    Geometry; thin lens as `magnification`.
    """
    x = np.linspace(-width_mm / 2, width_mm / 2, columns)[None, :] + shift_mm[0]
    y = np.linspace(height_mm / 2, -height_mm / 2, rows)[:, None] + shift_mm[1]
    enlarged = 1 + magnification(distance_m, focal_length_mm)
    x, y = np.broadcast_arrays(x / enlarged, y / enlarged)
    if distortion is None:
        return x / focal_length_mm, y / focal_length_mm
    height = np.hypot(x, y)
    tangent = distortion.tangent(height, focal_length_mm)
    scale = np.divide(tangent, height, out=np.full(height.shape, 1 / focal_length_mm), where=height > 0)
    return x * scale, y * scale


def upright(orientation: int | None) -> int:
    """Degrees clockwise, seen from behind, by which the camera was turned.

    By the same angle the picture as stored is turned for showing it upright. A mirrored orientation is turned
    first and mirrored left to right afterwards; only the turn counts.

    Parameters
    ----------
    orientation : of EXIF, 1 to 8; None and any other number count as 1 [1]

    Returns
    -------
    0, 90, 180 or 270 [deg]

    Source
    ------
    EXIF 2.32, tag 0x0112.
    """
    return {3: 180, 4: 180, 5: 90, 6: 90, 7: 270, 8: 270}.get(orientation or 1, 0)


def turned_shift(shift_mm: tuple[float, float], degrees: int) -> tuple[float, float]:
    """A shift on the camera body in the axes of the upright picture, the camera turned clockwise.

    Parameters
    ----------
    shift_mm : to the right and up in the landscape picture [mm]
    degrees : by which the camera was turned, a multiple of 90 [deg]

    Returns
    -------
    shift to the right and up in the upright picture [mm]

    Source
    ------
    Geometry.
    """
    x, y = shift_mm
    for _ in range(degrees // 90 % 4):
        x, y = y, -x
    return x, y
