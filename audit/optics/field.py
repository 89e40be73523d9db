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


def magnification(distance_m: float, focal_length_mm: float) -> float:
    """Size of the picture by size of the subject, thin lens: f / (s - f); 0 at infinity.

    `distance_m` counts from the lens. Cameras do not say whether they count from the sensor: at 16 mm and
    half a metre that is 0.2 % of the field's tangent. Raises ValueError for a subject nearer than twice
    the focal length (life size), where no lens of this use is.
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
    """Field tangents (x, y) of a grid over the picture, arrays of (rows, columns), row 0 at its top.

    The outermost cells' centres lie on the picture's edge: the corners are cells. `shift_mm` is how far
    the lens is moved to the right and up against the sensor, in the picture's axes: a raised lens sees
    more sky. Focus moves a thin lens away from the sensor by its magnification; lenses that focus inside
    keep more of their field. Raises ValueError as `magnification` does.
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
    """Degrees clockwise, seen from behind, by which the camera was turned: 0, 90, 180 or 270.

    By the same angle the picture as stored is turned for showing it upright (EXIF 2.32, tag 0x0112; 1 where
    it is absent or none of 1 to 8). A mirrored orientation counts as its picture after mirroring.
    """
    return {3: 180, 4: 180, 5: 90, 6: 90, 7: 270, 8: 270}.get(orientation or 1, 0)


def turned_shift(shift_mm: tuple[float, float], degrees: int) -> tuple[float, float]:
    """A shift on the camera body in the axes of the upright picture, the camera turned clockwise."""
    x, y = shift_mm
    for _ in range(degrees // 90 % 4):
        x, y = y, -x
    return x, y
