"""Whose tone curve a picture went through: a camera's usual one, or one that nobody here knows.

The general curve and its ranges come from cameras with large sensors and from the JPEGs that those make.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import pandas as pd

from audit.message.text import marked
from audit.optics.response import COEFFICIENTS, GENERAL, Curve
from audit.pixels.shrink import RAW
from audit.pixels.sketch import Sketch
from audit.scan.formats import DEVELOPED

Kind = Literal["camera", "composite", "small", "edited", "format"]

SMALL_SENSOR_MM = 14.0
"""Diagonal: phones lie below, cameras of the one-inch type (15.9 mm) and larger above (common practice, no
source). Drones and small compacts lie below too; none of them was among the cameras measured."""

DOUBTS: dict[Kind, str] = {
    "composite": marked("the camera made the picture of several exposures"),
    "small": marked(
        "the sensor is as small as a phone's, and phones treat each picture in their own way; two brackets "
        "of this camera would tell more"
    ),
    "edited": marked("the picture was resized or cropped, and perhaps edited, after it was taken"),
    "format": marked("the picture is no JPEG from the camera, and its tones may be others"),
}
"""Why the general curve may be far off, said of a picture."""
DOUBTED = {kind: Curve(COEFFICIENTS, doubt=why) for kind, why in DOUBTS.items()}
OF_ITS_OWN: frozenset[Kind] = frozenset({"composite"})
"""Each such picture has a curve of its own, so that no bracket tells it."""

USED = ("model", "formats", "composite", "sensor_width_mm", "sensor_height_mm", "notes_about")
"""Columns of a row that are looked at here."""


def kind_of(row: Mapping[str, Any]) -> Kind:
    """What is known of how a frame's picture was made; "camera" where nothing speaks against it."""
    if not pd.isna(row["composite"]) and row["composite"]:
        return "composite"
    if (
        math.hypot(*(_number(row[side]) for side in ("sensor_width_mm", "sensor_height_mm")))
        < SMALL_SENSOR_MM
    ):
        return "small"
    shown = str(row["formats"]).split("+")[0]
    if shown in DEVELOPED and shown != "JPEG":
        return "format"
    return "edited" if "picture size" in row["notes_about"] else "camera"


def _number(value: Any) -> float:
    """A side in mm; unknown counts as large, since a phone always writes what its size follows from."""
    return math.inf if pd.isna(value) else float(value)


@dataclass(frozen=True)
class Curves:
    """The tone curves of a trip: those fitted on its own brackets, by camera model and kind of picture."""

    fitted: Mapping[tuple[str, Kind], Curve] = field(default_factory=dict)

    def of(self, row: Mapping[str, Any], sketch: Sketch | None = None) -> Curve:
        """The curve of a frame's picture; a raw file that was developed here has the general one exactly."""
        if sketch is not None and sketch.source == RAW:
            return GENERAL
        kind = kind_of(row)
        own = self.fitted.get((str(row["model"]), kind))
        return own or DOUBTED.get(kind, GENERAL)
