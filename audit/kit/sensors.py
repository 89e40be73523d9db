"""The sensor area each picture really used, how it was found and how sure it is.

Sources in this order: the kit, open camera data, focal-plane resolution, the whole-number 35 mm equivalent.
"""

from __future__ import annotations

from typing import NamedTuple

from audit.kit.camera_data import diagonal_of
from audit.message.text import figure, joined, marked, say
from audit.optics.arrays import Reals
from audit.optics.field import (
    FULL_FRAME_DIAGONAL_MM,
    diagonal_from_equivalent_mm,
    diagonal_mm,
    equivalent_error,
    largest_inside_mm,
    sides_from_diagonal_mm,
)

DISAGREEMENT = 0.05
"""Two sources further apart than this mean another area, not another rounding."""

SAME_ASPECT = 0.03
"""Aspects closer than this are the same one: 6000 x 4000 px on 35.9 x 24.0 mm, 3008 x 1960 px on 3:2."""

# Relative errors by source; from memory, no source: a kit is copied from the maker's table to 0.1 mm, crop
# factors are kept to about 1 %, focal-plane resolutions are often rounded.
KIT_ERR, CAMERA_DATA_ERR, FOCAL_PLANE_ERR = 0.003, 0.01, 0.01

NAMED_ASPECTS = {"1:1": 1.0, "5:4": 1.25, "4:3": 4 / 3, "3:2": 1.5, "16:10": 1.6, "16:9": 16 / 9, "2:1": 2.0}


class SensorClues(NamedTuple):
    """What is known of one picture; lengths in mm, None where unknown. `kit_mm` is the kit's sensor."""

    make: str | None
    model: str | None
    kit_mm: tuple[float, float] | None
    width_px: float | None
    height_px: float | None
    focal_length_mm: float | None
    focal_length_35mm: float | None
    focal_plane_width_mm: float | None
    focal_plane_height_mm: float | None


class Sensor(NamedTuple):
    """Area used; `width_mm` is its long side, `err` relative.

    `other_pixels`: the picture's pixels are not those of the sensor, since it was resized or nobody knows.
    """

    width_mm: float | None
    height_mm: float | None
    err: float | None
    source: str
    note: str | None
    other_pixels: bool = False


UNKNOWN = Sensor(None, None, None, marked("unknown"), None)


def sensor_of(picture: SensorClues) -> Sensor:
    """The area used, by the first source that knows, corrected where the others show crop or aspect."""
    full = _from_kit(picture) or _from_camera_data(picture)
    plane, equivalent = _focal_plane(picture), _equivalent(picture)
    if full is not None:
        used = _aspect_cut(full, picture)
        return _crop(full, used, plane, equivalent)
    if plane is None:
        return equivalent or UNKNOWN
    if equivalent is not None and _apart(plane, equivalent):
        note = say("resized: {sizes}", sizes=_against(plane, equivalent))
        return equivalent._replace(note=note, other_pixels=True)
    return plane


def data_sensor_mm(picture: SensorClues) -> tuple[float, float] | None:
    """The whole sensor by the open camera data, (long, short) side; None where the file says otherwise."""
    full = _from_camera_data(picture)
    if full is None or full.width_mm is None or full.height_mm is None:
        return None
    used = _aspect_cut(full, picture)
    others = [one for one in (_focal_plane(picture), _equivalent(picture)) if one is not None]
    if any(_apart(one, full) and _apart(one, used) for one in others):
        return None
    return full.width_mm, full.height_mm


def _crop(full: Sensor, used: Sensor, plane: Sensor | None, equivalent: Sensor | None) -> Sensor:
    """The whole sensor against what the file says of its area."""
    other = equivalent is not None and _apart(equivalent, full) and _apart(equivalent, used)
    if equivalent is not None and other:
        if _diagonal(equivalent) > _diagonal(full):
            note = say("disagreement: {sizes}", sizes=_against(equivalent, full))
            return used._replace(note=note, other_pixels=True)
        area = plane if plane is not None and not _apart(plane, equivalent) else equivalent
        return area._replace(note=say("crop mode: {sizes}", sizes=_against(area, full)))
    if plane is not None and _apart(plane, used) and _apart(plane, full):
        note = say("resized: {sizes}", sizes=_against(plane, full))
        return used._replace(note=joined((used.note or "", note), "; "), other_pixels=True)
    return used


def _from_kit(picture: SensorClues) -> Sensor | None:
    if picture.kit_mm is None:
        return None
    return Sensor(max(picture.kit_mm), min(picture.kit_mm), KIT_ERR, marked("kit"), None)


def _from_camera_data(picture: SensorClues) -> Sensor | None:
    if picture.make is None or picture.model is None:
        return None
    diagonal = diagonal_of(picture.make, picture.model)
    if diagonal is None:
        return None
    aspect = _aspect(picture)
    native = aspect if aspect is not None and _named(aspect) in ("4:3", "3:2") else _usual_aspect(diagonal)
    return _sensor(*sides_from_diagonal_mm(diagonal, native), CAMERA_DATA_ERR, marked("camera data"))


def _usual_aspect(diagonal: float) -> float:
    """Smaller than APS-C and larger than full frame are 4:3, between is 3:2: common practice, no source."""
    crop = FULL_FRAME_DIAGONAL_MM / diagonal
    return 4 / 3 if crop > 1.9 or crop < 0.9 else 1.5


def _focal_plane(picture: SensorClues) -> Sensor | None:
    width, height = picture.focal_plane_width_mm, picture.focal_plane_height_mm
    if width is None or height is None:
        return None
    source = marked("focal-plane resolution")
    return _sensor(max(width, height), min(width, height), FOCAL_PLANE_ERR, source)


def _equivalent(picture: SensorClues) -> Sensor | None:
    if picture.focal_length_mm is None or picture.focal_length_35mm is None:
        return None
    diagonal = float(diagonal_from_equivalent_mm(picture.focal_length_mm, picture.focal_length_35mm))
    sides = sides_from_diagonal_mm(diagonal, _aspect(picture) or _usual_aspect(diagonal))
    return _sensor(*sides, float(equivalent_error(picture.focal_length_35mm)), marked("35 mm equivalent"))


def _aspect_cut(full: Sensor, picture: SensorClues) -> Sensor:
    """The largest area of the picture's aspect inside the sensor; the sensor itself for its own aspect."""
    aspect = _aspect(picture)
    if aspect is None or full.width_mm is None or full.height_mm is None:
        return full
    if abs(aspect / (full.width_mm / full.height_mm) - 1) <= SAME_ASPECT:
        return full
    width, height = largest_inside_mm(full.width_mm, full.height_mm, aspect)
    shape = _named(aspect) or figure(f"{aspect:.2f}:1")
    note = say("aspect {shape}: the largest such area of {size}", shape=shape, size=_size(full))
    return _sensor(width, height, full.err or 0.0, full.source)._replace(note=note)


def _aspect(picture: SensorClues) -> float | None:
    """Long side by short side, so that a picture stored upright counts as its landscape twin."""
    if picture.width_px is None or picture.height_px is None:
        return None
    return max(picture.width_px, picture.height_px) / min(picture.width_px, picture.height_px)


def _named(aspect: float) -> str | None:
    near = (name for name, value in NAMED_ASPECTS.items() if abs(aspect / value - 1) <= SAME_ASPECT)
    return next(near, None)


def _apart(one: Sensor, other: Sensor) -> bool:
    """Whether two areas differ by more than 5 % and by more than their own rounding explains."""
    slack = max(DISAGREEMENT, (one.err or 0.0) + (other.err or 0.0))
    return abs(_diagonal(one) / _diagonal(other) - 1) > slack


def _diagonal(sensor: Sensor) -> float:
    return float(diagonal_mm(sensor.width_mm or 0.0, sensor.height_mm or 0.0))


def _size(sensor: Sensor) -> str:
    return say("{width:.1f} x {height:.1f} mm", width=sensor.width_mm, height=sensor.height_mm)


def _against(one: Sensor, other: Sensor) -> str:
    return say(
        "{source} says {size}, {other_source} {other_size}",
        source=one.source,
        size=_size(one),
        other_source=other.source,
        other_size=_size(other),
    )


def _sensor(width: Reals | float, height: Reals | float, err: float, source: str) -> Sensor:
    return Sensor(round(float(width), 3), round(float(height), 3), err, source, None)
