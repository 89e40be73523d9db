"""Adds body, sensor and lens to the frame table."""

from __future__ import annotations

from typing import Any

import pandas as pd

from audit.kit.bodies import add_bodies
from audit.kit.kit import Kit
from audit.kit.lenses import add_lenses
from audit.kit.sensors import Picture, Sensor, sensor_of
from audit.message.text import marked
from audit.table.columns import filled

SENSOR_COLUMNS = (
    *("make", "model", "width_px", "height_px", "focal_length_mm", "focal_length_35mm"),
    *("focal_plane_width_mm", "focal_plane_height_mm"),
)
VIEWFINDERS = {"optical": marked("optical"), "electronic": marked("electronic")}


def add_gear(frames: pd.DataFrame, kit: Kit) -> pd.DataFrame:
    """A new table with the gear columns filled; rows, their order and all other columns stay as they are."""
    bodies = add_bodies(frames, kit)
    lenses = add_lenses(frames, kit)
    sensors = _sensors(frames, bodies, kit)
    ahead = {body.name: body.clock_ahead_s for body in kit.bodies}
    finders = {body.name: VIEWFINDERS.get(body.viewfinder or "") for body in kit.bodies}
    values: dict[str, list[Any]] = {
        "body": bodies,
        "clock_ahead_s": [ahead.get(label or "") for label in bodies],
        "sensor_width_mm": [s.width_mm for s in sensors],
        "sensor_height_mm": [s.height_mm for s in sensors],
        "sensor_err": [s.err for s in sensors],
        "sensor_source": [s.source for s in sensors],
        "sensor_note": [s.note for s in sensors],
        "lens_id": [id for id, _ in lenses],
        "lens_source": [how for _, how in lenses],
        "viewfinder": [finders.get(label or "") for label in bodies],
    }
    return filled(frames, values)


def _sensors(frames: pd.DataFrame, bodies: list[str | None], kit: Kit) -> list[Sensor]:
    """One sensor a frame; pictures that say the same share the work."""
    known: dict[Picture, Sensor] = {}
    found = []
    for label, row in zip(
        bodies, zip(*(frames[c].tolist() for c in SENSOR_COLUMNS), strict=True), strict=True
    ):
        body = kit.body(label) if label else None
        make, model, *numbers = row
        picture = Picture(
            _text(make), _text(model), body.sensor_mm if body is not None else None, *(map(_real, numbers))
        )
        if picture not in known:
            known[picture] = _as_stored(sensor_of(picture), picture)
        found.append(known[picture])
    return found


def _as_stored(sensor: Sensor, picture: Picture) -> Sensor:
    """A picture stored upright has its short side as width."""
    if picture.width_px is None or picture.height_px is None or picture.width_px >= picture.height_px:
        return sensor
    return sensor._replace(width_mm=sensor.height_mm, height_mm=sensor.width_mm)


def _text(value: object) -> str | None:
    return value if isinstance(value, str) and value.strip() else None


def _real(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and 0 < value < float("inf") else None
