"""The corner diagram of each frame, from its prediction and how the camera was held."""

from __future__ import annotations

from typing import Any

from audit.message.figures import number
from audit.message.text import say
from audit.optics.crop import Crop
from audit.report.diagram import CornerDiagram
from audit.report.words import corner_loss, known, text
from audit.result import Result


def frame_diagrams(result: Result) -> list[CornerDiagram | None]:
    """One diagram a frame in the table's order, None where there is no verdict or nothing before the lens."""
    return [_diagram(row, result) for row in result.rows]


def _diagram(row: dict[str, Any], result: Result) -> CornerDiagram | None:
    prediction, rig = result.corners.get(text(row["corner"])), result.rigs.get(text(row["rig"]))
    if prediction is None or rig is None or not rig.openings:
        return None
    lost = corner_loss(prediction.loss_min_stops, prediction.loss_max_stops)
    title = say(
        "Corners {verdict}: {lost}, predicted at {focal} mm, f/{number}",
        verdict=prediction.verdict,
        lost=lost,
        focal=number(float(row["focal_length_mm"])),
        number=number(float(row["f_number_exact"])),
    )
    return CornerDiagram(
        text(row["corner"]),
        float(row["sensor_width_mm"]),
        float(row["sensor_height_mm"]),
        int(row["orientation"]) if known(row["orientation"]) else 1,
        title,
        _crop(row),
        (int(row["width_px"]), int(row["height_px"])) if known(row["width_px"]) else (0, 0),
        prediction,
    )


def _crop(row: dict[str, Any]) -> Crop | None:
    if not known(row["clean_crop"]):
        return None
    return Crop.read(text(row["clean_crop"]), float(row["clean_crop_share"]))
