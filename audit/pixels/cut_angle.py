"""From the edges measured in a picture to the field angle at which its rig cuts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from audit.corners.predict import Geometry, field_err, field_of, parts_of
from audit.declare.rig import Opening, Rails, Rig
from audit.optics.cuts import (
    ASSUMED_BORE_ERR_MM,
    ASSUMED_HEIGHT_ERR_MM,
    BORE_ERR_MM,
    HEIGHT_ERR_MM,
    Cut,
    Part,
)
from audit.optics.pupils import HALF_WIDTH
from audit.pixels.cut import OPPOSITE, CornerProfile, Edge

_CELLS = ((0, 0), (0, -1), (-1, 0), (-1, -1))
"""Cell of each corner in a map of the picture, in the order of audit.pixels.cut.CORNERS."""


def cuts_of(name: str, measured: CornerProfile, geometry: Geometry, rig: Rig) -> list[Cut]:
    """The cuts of one frame, one for each loss, best told first; none where the frame was refused."""
    if measured.refused:
        return []
    parts = parts_with_errors(rig, geometry)
    return [_cut(name, edges, geometry, rig.shift_mm, parts) for edges in measured.levels]


def _cut(
    name: str,
    edges: tuple[Edge | None, ...],
    geometry: Geometry,
    shift_mm: tuple[float, float],
    parts: tuple[Part, ...],
) -> Cut:
    """Mean over the pairs of opposite corners: a decentred rig moves these apart."""
    pairs = [(edges[a], a, edges[b], b) for a, b in OPPOSITE]
    found, middles, level = [], [], 0.0
    heights = [edge.height for edge in edges if edge is not None]
    for one, place, other, across in pairs:
        if one is not None and other is not None:
            pair = [_angle(one, place, geometry, shift_mm), _angle(other, across, geometry, shift_mm)]
            found += pair
            middles.append(np.mean([angle for angle, _, _ in pair]))
            level = one.level_stops
    err = float(np.mean([err for _, err, _ in found]))
    apart = float(np.ptp(middles)) / 2
    return Cut(
        name=name,
        focal_length_mm=geometry.focal_length_mm,
        f_number=geometry.f_number,
        level_stops=level,
        angle_deg=float(np.mean([angle for angle, _, _ in found])),
        err_deg=float(np.hypot(err, apart)),
        directions=tuple(direction for _, _, direction in found),
        parts=parts,
        field_err=float(field_err(geometry, np.mean(heights))) / HALF_WIDTH,
    )


def parts_with_errors(rig: Rig, geometry: Geometry) -> tuple[Part, ...]:
    """The rig's openings with names and the errors of a caliper, or of a default dimension."""
    openings = parts_of(rig, upright=geometry.height_mm > geometry.width_mm)
    named: list[tuple[str, Opening | Rails]] = [(o.name, o) for o in rig.openings]
    named += [(f"rails of {r.name}", r) for r in rig.rails]
    return tuple(
        Part(
            what,
            part.opening,
            ASSUMED_BORE_ERR_MM if of.assumed_across else BORE_ERR_MM,
            ASSUMED_HEIGHT_ERR_MM if of.assumed_along else HEIGHT_ERR_MM,
        )
        for part, (what, of) in zip(openings, named, strict=True)
    )


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
