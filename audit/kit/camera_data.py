"""Sensor sizes from the open camera data that lensfunpy carries."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple

import lensfunpy

from audit.kit.rules import folded
from audit.optics.field import FULL_FRAME_DIAGONAL_MM


class Known(NamedTuple):
    """What the data say of all cameras of one name."""

    crop_factors: frozenset[float]
    mounts: frozenset[str]


@lru_cache(maxsize=1)
def database() -> Any:
    """The open camera and lens data, loaded once in about a tenth of a second.

    Only the files that lensfunpy carries, so that a report does not depend on what else is installed.
    """
    return lensfunpy.Database(load_common=False)


@lru_cache(maxsize=1)
def _cameras() -> dict[tuple[str, str], Known]:
    found: dict[tuple[str, str], Known] = {}
    for camera in database().cameras:
        if not camera.crop_factor or camera.crop_factor <= 0:
            continue
        key = folded(camera.maker), folded(camera.model)
        before = found.get(key, Known(frozenset(), frozenset()))
        crop = round(float(camera.crop_factor), 3)
        found[key] = Known(before.crop_factors | {crop}, before.mounts | {camera.mount})
    return found


def diagonal_of(make: str, model: str) -> float | None:
    """Sensor diagonal in mm of a camera named exactly so, or None where two are known."""
    camera = _cameras().get((folded(make), folded(model)))
    if camera is None or len(camera.crop_factors) != 1:
        return None
    return FULL_FRAME_DIAGONAL_MM / next(iter(camera.crop_factors))


def mounts_of(make: str, model: str) -> frozenset[str]:
    """Mounts whose lenses fit a camera named exactly so, with or without an adapter; empty if unknown."""
    camera = _cameras().get((folded(make), folded(model)))
    if camera is None:
        return frozenset()
    found = [database().find_mount(name) for name in camera.mounts]
    return camera.mounts.union(*(mount.compat for mount in found if mount is not None))
