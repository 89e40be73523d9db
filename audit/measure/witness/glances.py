"""A first look at every picture: how bright it came out, and whether it only marks a change."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from typing import Any

import pandas as pd

from audit.measure.scenes import moments
from audit.measure.witness.brightness import brightness_stops
from audit.measure.witness.clipping import thirds
from audit.measure.witness.markers import Glance, find_markers
from audit.measure.witness.pictures import USED, Pictures, Row
from audit.measure.witness.stack import fingerprint
from audit.model.columns import filled, records
from audit.model.sketch import Sketch
from audit.say import marked

Rows = list[tuple[object, Row]]


def by_scene(frames: pd.DataFrame) -> list[tuple[str, Rows]]:
    """Scene and its rows (label, cells) in order of time; frames without a scene are one each.

    Each row has `moment_min` besides: minutes by the body's clock, NaN where the file tells none.
    """
    scene = frames["scene"].astype(object).where(frames["scene"].notna(), frames["frame"])
    minute = (moments(frames).astype("int64") / 60e6).where(frames["captured_at"].notna())
    order = frames.assign(_scene=scene, moment_min=minute).sort_values(["moment_min", "counter", "frame"])
    rows = records(order, (*USED, "moment_min"))
    found: dict[str, Rows] = defaultdict(list)
    for name, label, row in zip(order["_scene"], order.index, rows, strict=True):
        found[str(name)].append((label, row))
    return sorted(found.items())


def markers_of(rows: Rows, pictures: Pictures) -> dict[object, str]:
    """Labels of the frames of a scene that only mark a change, with the reason."""
    glances = [_glance(row, pictures.of(row)) for _, row in rows]
    return {label: words for (label, _), words in zip(rows, find_markers(glances), strict=True) if words}


def _glance(row: Row, sketch: Sketch | None) -> Glance | None:
    if sketch is None:
        return None
    exposure_min: float = float(row["exposure_time_s"]) / 60 if pd.notna(row["exposure_time_s"]) else 0.0
    start = float(row["moment_min"])
    return Glance(start, start + exposure_min, fingerprint(sketch.grey), min(thirds(sketch.black, None)))


def look_over(
    frames: pd.DataFrame, pictures: Pictures, progress: Callable[[int, int], None] | None = None
) -> pd.DataFrame:
    """Fills `picture_stops` and `marker` and nothing else of the pixel columns; needs `scene`."""
    bright: dict[object, float] = {}
    marks: dict[object, str] = {}
    for _, rows in by_scene(frames):
        for label, row in rows:
            sketch = pictures.of(row)
            if sketch is not None:
                bright[label] = brightness_stops(sketch)
            if progress is not None:
                progress(len(bright), len(frames))
        marks.update(markers_of(rows, pictures))
    found: dict[str, dict[object, Any]] = {"picture_stops": bright, "marker": marks}
    return filled(frames, {name: map(cells.get, frames.index) for name, cells in found.items()})


def name_markers(frames: pd.DataFrame) -> pd.DataFrame:
    """Puts the markers found in the pictures among the sequences."""
    free = frames["marker"].notna() & frames["sequence"].isna()
    return frames.assign(
        sequence=frames["sequence"].mask(free, marked("marker")),
        sequence_of=frames["sequence_of"].mask(free, frames["frame"]),
        sequence_words=frames["sequence_words"].mask(free, frames["marker"]),
    )
