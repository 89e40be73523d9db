"""The test frames of a calibration: what each shows of its rig's cut, or why it shows nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from audit.corners.predict import Geometry
from audit.corners.verdict import LensOptics, geometry_of
from audit.declare.rig import Rig
from audit.errors import AuditError
from audit.kit.kit import Lens
from audit.optics.cuts import Cut
from audit.pixels.asking import codes
from audit.pixels.cut import CornerProfile, measure_cut
from audit.pixels.cut_angle import cuts_of, parts_with_errors
from audit.pixels.decode import Codes, PixelsUnreadable, readable
from audit.table.column import missing
from audit.table.columns import records

SAME_FOCAL = 0.01
MISSING = {
    "focal_length_mm": (
        "focal length unknown",
        "name the lens' focal_mm in the kit, or the lens in the span",
    ),
    "f_number_exact": ("f-number unknown", "write f_number into the span, or into the kit for the lens"),
    "sensor_width_mm": ("sensor size unknown", "write sensor_mm of the body into the kit"),
}


@dataclass(frozen=True)
class Shown:
    """A frame that shows cuts, one for each loss, best told first."""

    row: dict[str, Any]
    geometry: Geometry
    rig: Rig
    cuts: list[Cut]
    against: str

    def behind(self, rig: Rig) -> list[Cut]:
        """The same cuts, had another rig made them."""
        parts = parts_with_errors(rig, self.geometry)
        return [replace(cut, parts=parts) for cut in self.cuts]


@dataclass
class Measured:
    """What is gathered frame by frame."""

    shown: list[Shown] = field(default_factory=list)
    passed_over: list[tuple[str, str]] = field(default_factory=list)
    uncut: list[tuple[str, Cut, float]] = field(default_factory=list)

    @property
    def cuts(self) -> list[Cut]:
        """Those of all frames."""
        return [cut for one in self.shown for cut in one.cuts]

    @property
    def half_diagonal_mm(self) -> float:
        """Mean of the frames'."""
        return float(np.mean([one.geometry.half_diagonal_mm for one in self.shown]))


def measure_frames(
    folder: Path,
    frames: pd.DataFrame,
    rigs: Mapping[str, Rig],
    lens: Lens,
    optics: Mapping[tuple[str, str, str], LensOptics],
) -> Measured:
    """Measures every worn frame; refuses where none can be."""
    rows: list[dict[str, Any]] = [
        {k: None if missing(v) else v for k, v in row.items()} for row in records(frames)
    ]
    worn = [row for row in rows if row["declaration"] == "worn" and not row["problem"]]
    if not worn:
        reasons = [row["undeclared_reason"] for row in rows if row["undeclared_reason"]]
        why = reasons[0] if reasons else "every frame is declared bare or unknown"
        raise AuditError(f"no declared rig ({why}); write into filters.toml which ring or holder was on")
    known = [row for row in worn if all(row[name] is not None for name in MISSING)]
    if not known:
        lacking = next(name for name in MISSING if any(row[name] is None for row in worn))
        raise AuditError(f"{MISSING[lacking][0]} to EXIF and kit in every frame; {MISSING[lacking][1]}")
    work = Measured()
    for row in worn:
        lacking_words = [MISSING[name][0] for name in MISSING if row[name] is None]
        if lacking_words:
            work.passed_over.append((row["frame"], "; ".join(lacking_words)))
            continue
        data = optics.get((row["make"] or "", row["model"] or "", row["lens"] or ""))
        geometry = geometry_of(row, lens, data)
        _one(folder, row, rigs[row["rig"]], geometry, _bare_for(row, rows), work)
    return work


def _one(
    folder: Path,
    row: dict[str, Any],
    rig: Rig,
    geometry: Geometry,
    bare: dict[str, Any] | None,
    work: Measured,
) -> None:
    """Measures one frame into the work."""
    if not rig.openings and not rig.rails:
        work.passed_over.append((row["frame"], "the rig declared has no opening that could cut"))
        return
    try:
        measured = _measured(folder, row, bare)
    except PixelsUnreadable as error:
        work.passed_over.append((row["frame"], str(error)))
        return
    cuts = cuts_of(row["frame"], measured, geometry, rig)
    if cuts:
        work.shown.append(Shown(row, geometry, rig, cuts, measured.against))
        return
    work.passed_over.append((row["frame"], measured.refused))
    if measured.uncut:
        corner = float(np.degrees(np.arctan(geometry.half_diagonal_mm / geometry.focal_length_mm)))
        direction = (geometry.width_mm, geometry.height_mm)
        parts = parts_with_errors(rig, geometry)
        seen = Cut(
            row["frame"], geometry.focal_length_mm, geometry.f_number, 1.0, corner, 0.0, (direction,), parts
        )
        work.uncut.append((row["frame"], seen, geometry.half_diagonal_mm))


def _measured(folder: Path, row: dict[str, Any], bare: dict[str, Any] | None) -> CornerProfile:
    """The frame against its bare frame, or alone where there is none of the same size that can be read."""
    worn = _codes(folder, row)
    try:
        plain = _codes(folder, bare) if bare is not None else None
    except PixelsUnreadable:
        plain = None
    return measure_cut(worn, plain if plain is not None and plain.shape == worn.shape else None)


def _codes(folder: Path, row: dict[str, Any]) -> Codes:
    """Pixels of the first file of a frame that can be decoded."""
    name = next((name for name in row["files"] if readable(name)), None)
    if name is None:
        raise PixelsUnreadable("no JPEG, TIFF or PNG of it; a raw file alone is not decoded")
    return codes(folder / name)


def _bare_for(row: dict[str, Any], rows: list[dict[str, Any]]) -> dict[str, Any] | None:
    """The bare frame of the same body, focal length and f-number that is nearest in time."""
    alike = [
        other
        for other in rows
        if other["declaration"] == "bare"
        and not other["problem"]
        and other["body"] == row["body"]
        and other["f_number_exact"] == row["f_number_exact"]
        and other["focal_length_mm"] is not None
        and abs(other["focal_length_mm"] / row["focal_length_mm"] - 1) <= SAME_FOCAL
    ]
    if row["captured_at"] is None:
        return alike[0] if alike else None
    timed = [other for other in alike if other["captured_at"] is not None]
    nearest = min(timed, key=lambda other: abs(other["captured_at"] - row["captured_at"]), default=None)
    return nearest or (alike[0] if alike else None)
