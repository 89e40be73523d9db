"""The pixel columns where no picture is looked at: nothing but why each of them is empty."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from audit.declare.rig import Rig
from audit.kit.kit import Kit
from audit.pixels.compare import GRAD, NO_PARTNER, NO_PIXELS, against, hold
from audit.pixels.curves import camera_curves
from audit.pixels.evidence import FilterShown
from audit.pixels.filters import shown_filters
from audit.pixels.measure import PixelResult
from audit.pixels.processing import Curves
from audit.pixels.shots import comparable, glasses_of, kinds_of, scenes_of
from audit.pixels.sources import OFF
from audit.table.columns import PIXELS, filled
from audit.table.distinct import alike


def not_looked_at(frames: pd.DataFrame, rigs: Mapping[str, Rig], kit: Kit) -> PixelResult:
    """What `add_pixels` gives where no frame has a picture, at the cost of none being asked for."""
    held = comparable(frames).to_numpy(dtype=bool)
    part = frames[held]
    whys = np.full((2, len(frames)), None, dtype=object)
    whys[:, held] = _whys(part, rigs, kit)
    empty = [None] * len(frames)
    cells = {column.name: empty for column in PIXELS} | {"pixel_why": [OFF] * len(frames)}
    cells |= {f"{name}_why": whys[0].tolist() for name in ("pair", "shown_loss", "cast")}
    table = filled(frames, cells | {"strength_why": whys[1].tolist()})
    _, told = camera_curves(frames, lambda _: None)
    return PixelResult(table, {}, _filters(part, rigs, kit), told)


def _whys(part: pd.DataFrame, rigs: Mapping[str, Rig], kit: Kit) -> np.ndarray:
    """(2, n) why each frame cannot be compared, and why no strength is told where a filter is on."""
    kinds = kinds_of(kit)
    worn = {key: glasses_of(rig, kinds) for key, rig in rigs.items()}
    clear = np.array([not worn[key][0] for key in part["rig"]], dtype=bool)
    grad = np.array([worn[key][1] == "grad" for key in part["rig"]], dtype=bool)
    group = alike(part[name] for name in ("scene", "orientation", "width_px", "height_px"))
    others = np.bincount(group, weights=clear)[group] - clear if len(part) else np.zeros(0)
    why = np.where(grad, GRAD, np.where(others > 0, NO_PIXELS, NO_PARTNER)).astype(object)
    of_strength = why.copy()
    of_strength[clear] = None
    return np.stack([why, of_strength])


def _filters(part: pd.DataFrame, rigs: Mapping[str, Rig], kit: Kit) -> tuple[FilterShown, ...]:
    """Each filter of the kit, by the first scene in which it was worn alone: all of them say as little."""
    kinds = kinds_of(kit)
    worn = {key: glasses_of(rig, kinds)[0] for key, rig in rigs.items()}
    first: dict[str, str] = {}
    for scene, key in sorted(set(zip(part["scene"], part["rig"], strict=True))):
        if len(worn[key]) == 1:
            first.setdefault(worn[key][0], scene)
    some = scenes_of(part[part["scene"].isin(first.values())], rigs, kit)
    held = {
        shot.frame: hold(shot, some[scene], lambda _: None, Curves(), against)
        for scene in sorted(some)
        for shot in some[scene]
    }
    return shown_filters(kit, held, {}, {})
