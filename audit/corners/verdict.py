"""Corner loss predicted for each frame's own rig, lens, focal length, f-number and focus."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

import numpy as np
import pandas as pd

from audit.corners.answer import Widest
from audit.corners.kept import KeptCorners
from audit.corners.predict import Geometry
from audit.corners.prediction import LADDER, Prediction
from audit.corners.widest import widest_clear
from audit.declare.rig import Rig
from audit.kit.kit import Kit, Lens
from audit.message.text import joined, marked
from audit.optics.crop import Crop
from audit.optics.distortion import Distortion
from audit.optics.falloff import Falloff, natural_falloff_stops
from audit.optics.rules import rule_of_thumb
from audit.scan.formats import DEVELOPED
from audit.table.column import missing
from audit.table.columns import records
from audit.table.distinct import Numbers, alike, first_rows, spread

T = TypeVar("T")
LensKey = tuple[str, str, str]
"""Make, model and lens name as written."""

CORNER_NAMES = ("top_left", "top_right", "bottom_left", "bottom_right")
SIDE_NAMES = ("top", "bottom", "left", "right")

ALIKE = (
    "rig",
    "lens_id",
    "make",
    "model",
    "lens",
    "focal_length_mm",
    "f_number_exact",
    "sensor_width_mm",
    "sensor_height_mm",
    "sensor_err",
    "width_px",
    "height_px",
    "formats",
    "declaration",
)
"""Frames alike in these, and in a rounded subject distance, have the same corners."""
_OF_THE_WIDEST = (
    *("make", "model", "lens", "f_number_exact", "sensor_width_mm", "sensor_height_mm", "sensor_err"),
    *("formats", "subject_distance_m"),
)
"""What, besides lens and rig, the widest clear focal length of a frame follows from."""


class LensOptics(Protocol):
    """What open lens data know of a lens."""

    @property
    def source(self) -> str:
        """Where the data come from, with their licence."""

    @property
    def measured(self) -> tuple[object, ...]:
        """All that the distortion and the paraxial focal length at any focal length follow from."""

    def distortion(self, focal_length_mm: float) -> Distortion | None:
        """Distortion at a focal length."""

    def paraxial_focal_mm(self, focal_length_mm: float) -> float:
        """Focal length on the axis that the distortion was fitted with."""

    def falloff(self, focal_length_mm: float, f_number: float, distance_m: float) -> Falloff | None:
        """Natural falloff at a setting."""


@dataclass(frozen=True)
class Corner:
    """The corner columns of frames that are alike."""

    why: str
    rule: tuple[str, str]
    prediction: Prediction | None = None
    falloff_stops: float = np.nan
    falloff_source: str | None = None
    crop: Crop | None = None
    crop_worst: Crop | None = None
    widest: Widest | None = None


def add_corners(
    frames: pd.DataFrame,
    rigs: Mapping[str, Rig],
    kit: Kit,
    optics: Mapping[LensKey, LensOptics],
    kept: KeptCorners | None = None,
) -> tuple[pd.DataFrame, dict[str, Prediction]]:
    """Fills the corner and rule columns; gives the predictions by the table's `corner`.

    One prediction for each distinct combination; `optics` are open lens data by make, model and lens name.
    `kept` knows those of earlier runs.
    """
    lenses = {lens.id: lens for lens in kit.lenses}
    combination, rows = _combinations(frames)
    shared = _Shared(kept or KeptCorners(None))
    corners = [_corner(row, rigs, lenses, optics, shared) for row in rows]
    found = [(f"C{number}", corner) for number, corner in enumerate(corners, 1)]
    predictions = {name: c.prediction for name, c in found if c.prediction is not None}
    return spread(frames, _columns(found), combination), predictions


def _combinations(frames: pd.DataFrame) -> tuple[Numbers, list[dict[str, Any]]]:
    """For each frame the number of its combination, and the cells of each."""
    near = frames["subject_distance_m"].map(_rounded, na_action="ignore")
    number = alike([*(frames[name] for name in (*ALIKE, "problem")), near])
    table = frames.assign(subject_distance_m=near).iloc[first_rows(number)]
    rows = records(table, (*ALIKE, "subject_distance_m", "problem"))
    return number, [{name: None if missing(v) else v for name, v in row.items()} for row in rows]


class _Shared:
    """What combinations have in common that nothing optical tells apart: other neutrals in the same slots."""

    def __init__(self, kept: KeptCorners) -> None:
        self.kept = kept
        self._known: dict[tuple[Any, ...], Any] = {}

    def once(self, made: Callable[[], T], *key: Any) -> T:
        """What is made, the first time that such a key is seen."""
        if key not in self._known:
            self._known[key] = made()
        found: T = self._known[key]
        return found


def _corner(
    row: dict[str, Any],
    rigs: Mapping[str, Rig],
    lenses: Mapping[str, Lens],
    optics: Mapping[LensKey, LensOptics],
    shared: _Shared,
) -> Corner:
    why_not = _why_not(row)
    if why_not:
        return Corner(why_not, ("silent", why_not))
    rig, lens = rigs[row["rig"]], lenses.get(row["lens_id"] or "")
    data = optics.get((row["make"] or "", row["model"] or "", row["lens"] or ""))
    geometry = geometry_of(row, lens, data)
    before = rig.openings, rig.rails, rig.shift_mm, row["lens_id"]
    prediction = shared.once(lambda: shared.kept.predicted(rig, geometry, lens), before, geometry)
    falloff = natural_falloff_stops(geometry, data) if data is not None else None
    crop = crop_worst = None
    if row["width_px"] and row["height_px"] and prediction.verdict != "clear":
        size = int(row["width_px"]), int(row["height_px"])
        crop, crop_worst = shared.once(lambda: shared.kept.crops(prediction, size), before, geometry, size)
    widest = None
    if prediction.verdict != "clear":
        own = [row[name] for name in _OF_THE_WIDEST]
        told = (*own, None if data is None else data.measured)
        widest = shared.once(
            lambda: shared.kept.widest(lambda: _widest(row, rig, lens, data), rig, lens, *told), before, *own
        )
    rule = ("silent", marked("no rule for a bare lens"))
    if rig.openings:
        thread = lens.thread_mm if lens else None
        diagonal = 2 * geometry.half_diagonal_mm
        rule = rule_of_thumb(
            geometry.focal_length_mm, diagonal, rig.ring_kind, bool(rig.second_holder), thread
        )
    return Corner(
        prediction.limits or marked("nothing in front of the lens"),
        rule,
        prediction,
        np.nan if falloff is None else falloff,
        None if falloff is None or data is None else data.source,
        crop,
        crop_worst,
        widest,
    )


def _widest(row: Mapping[str, Any], rig: Rig, lens: Lens | None, data: LensOptics | None) -> Widest:
    """Widest clear focal length of the frame's rig at its f-number."""

    def at(focal_length_mm: float) -> Geometry:
        return geometry_of({**row, "focal_length_mm": focal_length_mm}, lens, data)

    return widest_clear(rig, at, at(float(row["focal_length_mm"])).half_diagonal_mm, lens)


def geometry_of(row: Mapping[str, Any], lens: Lens | None, data: LensOptics | None) -> Geometry:
    """The frame's geometry: distortion from the kit, else from open lens data, else unknown."""
    focal = float(row["focal_length_mm"])
    percent = lens.distortion_at(focal) if lens is not None else None
    half_diagonal = float(np.hypot(row["sensor_width_mm"], row["sensor_height_mm"])) / 2
    distortion = None if percent is None else Distortion.from_percent(percent, half_diagonal)
    paraxial_mm = None
    if distortion is None and data is not None:
        distortion, paraxial_mm = data.distortion(focal), data.paraxial_focal_mm(focal)
    # A developed picture may have been corrected for distortion by the camera or a program.
    developed = any(kind in DEVELOPED for kind in (row["formats"] or "").split("+"))
    return Geometry(
        focal_length_mm=focal,
        f_number=float(row["f_number_exact"]),
        width_mm=float(row["sensor_width_mm"]),
        height_mm=float(row["sensor_height_mm"]),
        sensor_err=float(row["sensor_err"] or 0.0),
        # A subject nearer than life size is a slip of the camera's; it would not move a corner much.
        distance_m=max(row["subject_distance_m"] or float("inf"), 3e-3 * focal),
        distortion=distortion,
        corrected=None if developed else False,
        paraxial_mm=paraxial_mm,
    )


_NO_RIG = {
    "unknown": marked("the rig is unknown"),
    "no-neutral": marked("of the rig it is only known that no neutral was on"),
    "undeclared": marked("the rig is undeclared"),
}
_LACKING = {
    "focal_length_mm": marked("focal length unknown"),
    "f_number_exact": marked("f-number unknown"),
    "sensor_width_mm": marked("sensor size unknown"),
}


def _why_not(row: Mapping[str, Any]) -> str:
    """Why no corner can be predicted, or an empty text."""
    if row["problem"]:
        return marked("the file could not be read")
    if row["declaration"] not in ("worn", "bare"):
        return _NO_RIG[row["declaration"]]
    return joined(words for name, words in _LACKING.items() if row[name] is None)


def _columns(found: list[tuple[str, Corner]]) -> dict[str, list[Any]]:
    def of(name: str, empty: Any = np.nan) -> list[Any]:
        return [empty if c.prediction is None else getattr(c.prediction, name) for _, c in found]

    def angle(number: int) -> list[float]:
        made = (np.nan if c.prediction is None else c.prediction.angles_deg[number] for _, c in found)
        return [np.nan if degrees >= 90 else degrees for degrees in made]

    def place(name: str, number: int) -> list[float]:
        losses = [None if c.prediction is None else getattr(c.prediction, name)[number] for _, c in found]
        return [np.nan if loss is None else loss for loss in losses]

    def widest(end: str) -> list[float]:
        return [np.nan if c.widest is None else getattr(c.widest, end) for _, c in found]

    return {
        "corner": [name if c.prediction is not None else None for name, c in found],
        "corner_angle_deg": of("angle_deg"),
        **{name: angle(number) for number, name in enumerate(LADDER)},
        "corner_early_deg": of("early_deg"),
        "corner_late_deg": of("late_deg"),
        "corner_loss_min_stops": of("loss_min_stops"),
        "corner_loss_stops": of("loss_stops"),
        "corner_loss_max_stops": of("loss_max_stops"),
        "corner_verdict": of("verdict", marked("not measurable")),
        "corner_why": [c.why for _, c in found],
        "corner_assumed": [list(assumed) for assumed in of("assumed", ())],
        **{f"loss_{name}_stops": place("middle_corner_stops", n) for n, name in enumerate(CORNER_NAMES)},
        **{f"loss_{name}_stops": place("side_stops", n) for n, name in enumerate(SIDE_NAMES)},
        "widest_clear_mm": widest("middle_mm"),
        "widest_clear_best_mm": widest("best_mm"),
        "widest_clear_worst_mm": widest("worst_mm"),
        "clean_crop": [c.crop.words if c.crop else None for _, c in found],
        "clean_crop_share": [c.crop.share if c.crop else np.nan for _, c in found],
        "clean_crop_worst_share": [c.crop_worst.share if c.crop_worst else np.nan for _, c in found],
        "natural_falloff_stops": [c.falloff_stops for _, c in found],
        "natural_falloff_source": [c.falloff_source for _, c in found],
        "rule_verdict": [c.rule[0] for _, c in found],
        "rule_words": [c.rule[1] for _, c in found],
    }


def _rounded(distance_m: float) -> float:
    """Subject distance to one digit: focus beyond that does not move a corner."""
    return float(f"{distance_m:.1g}")
