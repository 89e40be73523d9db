"""From a folder of test frames to the depth of a lens' entrance pupil, in one readable function."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from audit.corners.calibration import Calibration, FrameCut, kit_values
from audit.corners.predict import Geometry
from audit.corners.verdict import LensOptics, geometry_of
from audit.declare import add_gear, join, lens_optics, load
from audit.declare.rig import Rig
from audit.errors import AuditError
from audit.kit.kit import Kit, Lens
from audit.optics.calibrate import CalibrationRefused, PupilFit, fit_pupil
from audit.optics.cut_model import onset_deg
from audit.optics.cuts import Cut
from audit.optics.pupils import DEPTH, FIELD, WIDE_OPEN_BELOW
from audit.pixels.cut import CornerProfile, measure_cut
from audit.pixels.cut_angle import cuts_of, parts_with_errors
from audit.pixels.decode import Codes, PixelsUnreadable, grey_codes, readable
from audit.scan import scan
from audit.table.column import missing
from audit.table.columns import records

SAME_FOCAL = 0.01
SURE_DRIFT_MM = 2.5
"""Error of the drift (95 %) above which it is said that the cuts do not tell it."""
MISSING = {
    "focal_length_mm": (
        "focal length unknown",
        "name the lens' focal_mm in the kit, or the lens in the span",
    ),
    "f_number_exact": ("f-number unknown", "write f_number into the span, or into the kit for the lens"),
    "sensor_width_mm": ("sensor size unknown", "write sensor_mm of the body into the kit"),
}


@dataclass
class _Work:
    """What is gathered frame by frame."""

    cuts: list[Cut] = field(default_factory=list)
    shown: list[tuple[dict[str, Any], Cut, str]] = field(default_factory=list)
    passed_over: list[tuple[str, str]] = field(default_factory=list)
    uncut: list[tuple[str, Cut, float]] = field(default_factory=list)
    half_diagonals: list[float] = field(default_factory=list)


def calibrate(
    folder: Path,
    *,
    kit_path: Path | None = None,
    declarations: Path | None = None,
    lens: str | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Calibration:
    """Calibrates the lens of a folder of test frames with a filters.toml. Nothing is written.

    Raises AuditError with the reason where the frames do not tell a depth.
    """
    loaded = load(folder, kit_path, declarations)
    scanned = scan(folder, progress=progress)
    if scanned.frames.empty:
        raise AuditError(f"{folder}: holds no picture; name the folder with the test frames")
    joined = join(add_gear(scanned.frames, loaded.kit), loaded.kit, loaded.declarations)
    chosen = _lens(joined.frames, loaded.kit, lens)
    frames = joined.frames[joined.frames["lens_id"].eq(chosen.id).fillna(False)]
    work = _measure(folder, frames, joined.rigs, chosen, lens_optics(frames))
    if not work.cuts:
        raise AuditError(_no_cut(work))
    half_diagonal = float(np.mean(work.half_diagonals))
    try:
        fit = fit_pupil(work.cuts, half_diagonal)
    except CalibrationRefused as error:
        raise AuditError(str(error)) from None
    return Calibration(
        lens_id=chosen.id,
        fit=fit,
        frames=_frame_cuts(work, fit),
        passed_over=tuple(work.passed_over),
        notes=tuple(_notes(work, fit)),
        values=kit_values(fit),
    )


def _lens(frames: pd.DataFrame, kit: Kit, wanted: str | None) -> Lens:
    """The one lens of the frames, or the one asked for."""
    sound = frames[frames["problem"].isna()]
    present = sorted(sound["lens_id"].dropna().unique())
    if wanted is not None:
        chosen = kit.lens(wanted)
        if chosen is None:
            raise AuditError(f'the kit has no lens "{wanted}"; write its id as in the kit')
        if wanted not in present:
            raise AuditError(f'no frame was taken with the lens "{wanted}"')
        return chosen
    strangers = sorted(sound.loc[sound["lens_id"].isna(), "lens"].dropna().unique())
    if len(present) + len(strangers) > 1:
        raise AuditError(
            f"frames of several lenses: {', '.join([*present, *strangers])}; choose one with --lens"
        )
    if not present:
        why = sound["lens_source"].dropna()
        raise AuditError(f"no lens of the kit took these frames: {why.iloc[0] if len(why) else 'no kit'}")
    found = kit.lens(present[0])
    assert found is not None
    return found


def _measure(
    folder: Path,
    frames: pd.DataFrame,
    rigs: Mapping[str, Rig],
    lens: Lens,
    optics: Mapping[tuple[str, str, str], LensOptics],
) -> _Work:
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
    work = _Work()
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
    work: _Work,
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
        work.cuts += cuts
        work.shown.append((row, cuts[0], measured.against))
        work.half_diagonals.append(geometry.half_diagonal_mm)
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
    codes = _codes(folder, row)
    try:
        plain = _codes(folder, bare) if bare is not None else None
    except PixelsUnreadable:
        plain = None
    return measure_cut(codes, plain if plain is not None and plain.shape == codes.shape else None)


def _codes(folder: Path, row: dict[str, Any]) -> Codes:
    """Pixels of the first file of a frame that can be decoded."""
    name = next((name for name in row["files"] if readable(name)), None)
    if name is None:
        raise PixelsUnreadable("no JPEG, TIFF or PNG of it; a raw file alone is not decoded")
    return grey_codes(folder / name)


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


def _no_cut(work: _Work) -> str:
    """The reason that most frames share."""
    reason, count = Counter(reason for _, reason in work.passed_over).most_common(1)[0]
    total, uncut = len(work.passed_over), {frame for frame, *_ in work.uncut}
    if any(frame in uncut for frame, why in work.passed_over if why == reason):
        return f"no cut in any of {total} frames; photograph a rig that darkens the corners"
    return f"no frame can be used: {reason} ({count} of {total} frames)"


def _frame_cuts(work: _Work, fit: PupilFit) -> tuple[FrameCut, ...]:
    """One row a frame, at the loss that is told best."""
    predicted = {id(cut): angle for cut, angle in zip(work.cuts, fit.predicted_deg, strict=True)}
    return tuple(
        FrameCut(
            frame=row["frame"],
            focal_length_mm=cut.focal_length_mm,
            f_number=float(row["f_number"]),
            rig_words=row["mount_words"] or row["rig_words"],
            against=against,
            level_stops=cut.level_stops,
            measured_deg=cut.angle_deg,
            err_deg=cut.err_deg,
            predicted_deg=predicted[id(cut)],
        )
        for row, cut, against in work.shown
    )


def _notes(work: _Work, fit: PupilFit) -> list[str]:
    """What a reader should know beside the numbers."""
    notes = []
    for frame, seen, half in work.uncut:
        near = min(fit.pupils, key=lambda p: (p.wide_open, abs(p.focal_length_mm - seen.focal_length_mm)))
        shallow = near.told.values[:FIELD] - np.array([near.err(DEPTH), 0.0, 0.0])
        if onset_deg(seen, shallow, half) < seen.angle_deg - 1.0:
            notes.append(f"{frame} shows no cut where this depth puts one; look at the rig declared")
    if not any(one.wide_open for one in fit.pupils):
        notes.append(
            f"no frame below f/{WIDE_OPEN_BELOW:g}: wide open, where rims of the lens stop part of the beam, "
            "the corners are less sure"
        )
    if fit.drift_err_mm > SURE_DRIFT_MM:
        notes.append(
            "the cuts lie too near to each other to tell depth and drift apart; the pupil's own place on the "
            f"axis is known to ± {fit.depth_err_mm:.1f} mm, the corners better"
        )
    assumed = sorted(
        {p.name for c in work.cuts for p in c.parts if p.bore_err_mm > 1 or p.height_err_mm > 0.5}
    )
    if assumed:
        notes.append(f"default dimensions were assumed for {', '.join(assumed)}; measure them with a caliper")
    notes.append("outside the model: focus nearer than about 1 m, bellows hoods, floating elements")
    return notes
