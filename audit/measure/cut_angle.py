"""From the edges measured in a picture to the field angle at which its rig cuts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from audit.measure.cut import OPPOSITE, Edge, Measured
from audit.measure.predict import Geometry, field_of, parts_of
from audit.model.rig import Rig
from audit.optics.calibrate import (
    ASSUMED_BORE_ERR_MM,
    ASSUMED_HEIGHT_ERR_MM,
    BORE_ERR_MM,
    HEIGHT_ERR_MM,
    Cut,
    Part,
)

_CELLS = ((0, 0), (0, -1), (-1, 0), (-1, -1))
"""Cell of each corner in a map of the picture, in the order of audit.measure.cut.CORNERS."""


def cut_of(name: str, measured: Measured, geometry: Geometry, rig: Rig) -> Cut:
    """The cut of one frame: mean over pairs of opposite corners, which a decentred rig moves apart.

    Raises ValueError where the frame was refused.
    """
    pairs = [p for p in OPPOSITE if all(measured.edges[c] is not None for c in p)]
    if not pairs:
        raise ValueError(measured.refused or "no two opposite corners")
    angles, errs, directions = [], [], []
    for corner in (c for pair in pairs for c in pair):
        edge = measured.edges[corner]
        assert edge is not None
        angle, err, direction = _angle(edge, corner, geometry, rig.shift_mm)
        angles.append(angle)
        errs.append(err)
        directions.append(direction)
    middles = [np.mean(angles[i : i + 2]) for i in range(0, len(angles), 2)]
    apart = float(np.ptp(middles)) / 2 if len(middles) > 1 else float(np.mean(errs))
    return Cut(
        name=name,
        focal_length_mm=geometry.focal_length_mm,
        f_number=geometry.f_number,
        level_stops=_level(measured),
        angle_deg=float(np.mean(angles)),
        err_deg=float(np.hypot(np.mean(errs), apart)),
        directions=tuple(directions),
        parts=parts_with_errors(rig, geometry),
    )


def parts_with_errors(rig: Rig, geometry: Geometry) -> tuple[Part, ...]:
    """The rig's openings with names and the errors of a caliper, or of a default dimension."""
    openings = parts_of(rig, upright=geometry.height_mm > geometry.width_mm)
    named = [(o.name, o.assumed) for o in rig.openings]
    named += [(f"rails of {r.name}", r.assumed) for r in rig.rails]
    return tuple(
        Part(
            what,
            part.opening,
            ASSUMED_BORE_ERR_MM if _across(assumed) else BORE_ERR_MM,
            ASSUMED_HEIGHT_ERR_MM if any(not _is_across(a) for a in assumed) else HEIGHT_ERR_MM,
        )
        for part, (what, assumed) in zip(openings, named, strict=True)
    )


def _across(assumed: tuple[str, ...]) -> bool:
    return any(_is_across(words) for words in assumed)


def _is_across(words: str) -> bool:
    return words.startswith(("bore", "clear width"))


def _level(measured: Measured) -> float:
    return next(edge.level_stops for edge in measured.edges if edge is not None)


def _angle(
    edge: Edge, corner: int, geometry: Geometry, shift_mm: tuple[float, float]
) -> tuple[float, float, tuple[float, float]]:
    """Field angle and its error in degrees, and the direction, of a height along a corner's diagonal."""
    direction = _tangent(edge.height, corner, geometry, shift_mm)
    angle, further = (
        float(np.degrees(np.arctan(np.hypot(*_tangent(h, corner, geometry, shift_mm)))))
        for h in (edge.height, edge.height + edge.err)
    )
    return angle, abs(further - angle), direction


def _tangent(
    height: float, corner: int, geometry: Geometry, shift_mm: tuple[float, float]
) -> tuple[float, float]:
    """The corner of a picture that is smaller by `height` lies there on the diagonal."""
    smaller = replace(geometry, width_mm=geometry.width_mm * height, height_mm=geometry.height_mm * height)
    tan_x, tan_y, _ = field_of(smaller, shift_mm)
    cell = _CELLS[corner]
    return float(tan_x[cell]), float(tan_y[cell])
