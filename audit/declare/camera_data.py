"""Sensor sizes from the open camera data that lensfunpy carries."""

from __future__ import annotations

from functools import lru_cache

import lensfunpy

from audit.declare.kit_rules import folded
from audit.optics.field import FULL_FRAME_DIAGONAL_MM


@lru_cache(maxsize=1)
def _crop_factors() -> dict[tuple[str, str], set[float]]:
    """Crop factors by maker and model; loading takes about a tenth of a second, once."""
    found: dict[tuple[str, str], set[float]] = {}
    for camera in lensfunpy.Database().cameras:
        if camera.crop_factor and camera.crop_factor > 0:
            key = folded(camera.maker), folded(camera.model)
            found.setdefault(key, set()).add(round(float(camera.crop_factor), 3))
    return found


def diagonal_of(make: str, model: str) -> float | None:
    """Sensor diagonal in mm of a camera named exactly so, or None where two are known."""
    crops = _crop_factors().get((folded(make), folded(model)), set())
    return FULL_FRAME_DIAGONAL_MM / next(iter(crops)) if len(crops) == 1 else None
