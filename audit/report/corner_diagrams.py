"""The corner diagram of each frame, from its rig, lens and the sensor area used."""

from __future__ import annotations

from typing import Any

import numpy as np

from audit.measure.corners import CUT_STOPS, limit_radii_mm
from audit.model.result import Result
from audit.report.diagram import CornerDiagram
from audit.report.words import corner_loss, known, number, text

UPRIGHT = (5, 6, 7, 8)
"""EXIF orientations that turn the picture by a quarter."""
ALIKE = (
    "rig",
    "lens_id",
    "focal_length_mm",
    "f_number_exact",
    "sensor_width_mm",
    "sensor_height_mm",
    "sensor_err",
    "corner_verdict",
    "corner_loss_min_stops",
    "corner_loss_max_stops",
)
"""Frames alike in these share a diagram, apart from how the camera was held."""


def frame_diagrams(result: Result) -> list[CornerDiagram | None]:
    """One diagram a frame in the table's order, None where there is no verdict or nothing before the lens."""
    lenses = {lens.id: lens for lens in result.kit.lenses}
    made: dict[tuple[Any, ...], CornerDiagram | None] = {}
    out: list[CornerDiagram | None] = []
    for row in result.frames[[*ALIKE, "orientation"]].to_dict("records"):
        key = tuple(row[name] if known(row[name]) else None for name in ALIKE)
        if key not in made:
            made[key] = _diagram(dict(zip(ALIKE, key, strict=True)), result, lenses)
        diagram = made[key]
        upright = known(row["orientation"]) and int(row["orientation"]) in UPRIGHT
        out.append(diagram.turned() if diagram and upright else diagram)
    return out


def _diagram(row: dict[str, Any], result: Result, lenses: dict[str, Any]) -> CornerDiagram | None:
    verdict, rig = text(row["corner_verdict"]), result.rigs.get(text(row["rig"]))
    numbers = [
        row[name] for name in ("focal_length_mm", "f_number_exact", "sensor_width_mm", "sensor_height_mm")
    ]
    if (
        verdict in ("", "not measurable")
        or rig is None
        or not rig.openings
        or any(value is None for value in numbers)
    ):
        return None
    focal, f_number, width, height = (float(value) for value in numbers)
    err, lens = float(row["sensor_err"] or 0.0), lenses.get(text(row["lens_id"]))

    def radii(loss_stops: float) -> tuple[float, float]:
        """(shallow, deep): a larger sensor reaches further into the cut, a smaller one less far."""
        worst, best = limit_radii_mm(rig.openings, focal, f_number, lens, loss_stops)
        return best / (1 - err), worst / (1 + err)

    low, high = row["corner_loss_min_stops"], row["corner_loss_max_stops"]
    lost = f": {corner_loss(float(low), float(high))}" if low is not None and high is not None else ""
    title = f"{verdict}{lost}, predicted at {number(focal)} mm, f/{number(f_number)}"
    title = title[0].upper() + title[1:]
    return CornerDiagram(width, height, radii(CUT_STOPS), radii(float(np.inf)), verdict, title)
