"""Groups of frames that one rig would darken alike, judged together over their different compositions."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from audit.measure.witness.stack import Stack, corner_contrasts, distinct, fingerprint, stack_loss
from audit.model.sketch import Sketch
from audit.optics.arrays import Floats
from audit.optics.response import Curve

SAME = ("mount_words", "model", "lens", "focal_length_mm", "f_number_exact")


@dataclass
class Stacks:
    """Collects a few numbers of each frame, so that no picture has to be kept."""

    _contrasts: dict[str, list[Floats]] = field(default_factory=lambda: defaultdict(list))
    _prints: dict[str, list[Floats]] = field(default_factory=lambda: defaultdict(list))
    _names: dict[tuple[Any, ...], str] = field(default_factory=dict)
    members: dict[object, str] = field(default_factory=dict)

    def add(self, label: object, row: Mapping[str, Any], sketch: Sketch, curve: Curve) -> None:
        """Takes a frame in, unless its rig is not known or a filter is on that is uneven itself."""
        key = tuple(None if pd.isna(row[name]) else row[name] for name in SAME)
        if row["declaration_source"] != "photographer" or None in key[3:] or pd.isna(row["rig"]):
            return
        name = self._names.setdefault(key, row["frame"])
        self.members[label] = name
        self._contrasts[name].append(corner_contrasts(sketch.grey, curve))
        self._prints[name].append(fingerprint(sketch.grey))

    def results(self) -> dict[str, Stack]:
        """What each group shows; compositions that repeat count once."""
        found = {}
        for name, contrasts in self._contrasts.items():
            shapes = {p.shape for p in self._prints[name]}
            once = distinct(self._prints[name]) if len(shapes) == 1 else []
            found[name] = stack_loss(np.array([contrasts[i] for i in once]).reshape(-1, 4))
        return found
