"""The step of the audit that asks the pictures themselves: table in, table and evidence out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from audit.corners.prediction import Prediction
from audit.declare.rig import Rig
from audit.kit.kit import Kit
from audit.pixels.cells import Cells, frame_cells, held_cells, strength_cells
from audit.pixels.compare import Against, BareComparison, evidence_of, hold
from audit.pixels.curves import camera_curves
from audit.pixels.evidence import CameraCurve, Evidence, FilterShown
from audit.pixels.filters import scene_strengths, shown_filters
from audit.pixels.kept_pairs import KeptPairs
from audit.pixels.overview import markers_of, scenes_ahead
from audit.pixels.processing import Curves
from audit.pixels.shots import Pictures, Row, Shot, scenes_of
from audit.pixels.stack import Stacks
from audit.pixels.strength import MeasuredStrength

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class PixelResult:
    """The table with the pixel columns, and what the report shows of it."""

    frames: pd.DataFrame
    evidence: dict[str, Evidence]
    filters: tuple[FilterShown, ...]
    curves: tuple[CameraCurve, ...]


@dataclass
class _Trip:
    """What is gathered on the way through the scenes."""

    pictures: Pictures
    curves: Curves
    predictions: Mapping[str, Prediction]
    uneven: frozenset[str]
    against: Against
    cells: Cells = field(default_factory=Cells)
    stacks: Stacks = field(default_factory=Stacks)
    held: dict[str, BareComparison] = field(default_factory=dict)
    strengths: dict[str, MeasuredStrength] = field(default_factory=dict)
    evidence: dict[str, Evidence] = field(default_factory=dict)

    def alone(self, label: object, row: Row) -> None:
        """What a frame shows by itself."""
        sketch = self.pictures.of(row)
        curve = self.curves.of(row, sketch)
        even = self.uneven.isdisjoint(row["filters"])
        self.cells.put(label, frame_cells(row, sketch, self.pictures.why(row), curve, even=even))
        if sketch is not None and even:
            self.stacks.add(label, row, sketch, curve)

    def together(self, scene: list[Shot]) -> None:
        """What the frames of one scene show against each other."""
        held = [
            hold(shot, scene, lambda s: self.pictures.of(s.row), self.curves, self.against) for shot in scene
        ]
        strengths = scene_strengths(held)
        for one in held:
            predicted = self.predictions.get(str(one.shot.row["corner"]))
            self.cells.put(one.shot.label, held_cells(one, predicted))
            self.cells.put(one.shot.label, strength_cells(one, strengths.get(one.shot.frame)))
            shown = evidence_of(one)
            if shown is not None:
                self.evidence[one.shot.frame] = shown
            self.held[one.shot.frame] = one
        self.strengths.update(strengths)


def add_pixels(
    frames: pd.DataFrame,
    rigs: Mapping[str, Rig],
    predictions: Mapping[str, Prediction],
    kit: Kit,
    pictures: Pictures,
    progress: Progress | None = None,
    cache: Path | None = None,
) -> PixelResult:
    """Fills the pixel columns: each frame by itself, then against a frame without filters, then in groups.

    `progress` gets (frames looked at, frames in all). Pictures are asked for one scene after the other, so
    that few of them need to be in memory. Comparisons are kept beside the file `cache`, if one is named.
    """
    scenes = scenes_ahead(frames, pictures)
    curves, told = camera_curves(frames, pictures.of)
    uneven = frozenset(f.id for f in kit.filters if f.is_grad or f.kind == "polariser")
    kept = KeptPairs(cache)
    trip = _Trip(pictures, curves, predictions, uneven, kept.against)
    shots = scenes_of(frames, rigs, kit)
    done = 0
    for scene, rows in scenes:
        for label, row in rows:
            trip.alone(label, row)
            done += 1
            if progress is not None:
                progress(done, len(frames))
        for label, words in markers_of(rows, pictures).items():
            trip.cells.put(label, {"marker": words})
        trip.together(shots.get(scene, []))
    kept.close()
    scene_of = dict(zip(frames["frame"], frames["scene"].astype(object), strict=True))
    filters = shown_filters(kit, trip.held, trip.strengths, scene_of)
    trip.cells.put_filters(filters, trip.held)
    trip.cells.put_stacks(trip.stacks)
    return PixelResult(trip.cells.onto(frames), trip.evidence, filters, told)
