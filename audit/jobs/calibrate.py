"""From a folder of test frames to the depth of a lens' entrance pupil, in one readable function."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from audit.corners.asked import known_ids
from audit.corners.calibration import Calibration, FrameCut, kit_values
from audit.corners.plausible import Doubt, doubts
from audit.declare import add_gear, join, lens_optics, load
from audit.declare.other_rigs import Swap, swapped, swaps
from audit.errors import AuditError
from audit.kit.kit import Kit, Lens
from audit.optics.calibrate import MOST_MISFIT, CalibrationRefused, PupilFit, fit_pupil
from audit.optics.cut_model import onset_deg
from audit.optics.pupils import DEPTH, FIELD, WIDE_OPEN_BELOW
from audit.pixels.calibration_frames import Measured, measure_frames
from audit.scan import scan

SURE_DRIFT_MM = 2.5
"""Error of the drift (95 %) above which it is said that the cuts do not tell it."""


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
    work = measure_frames(folder, frames, joined.rigs, chosen, lens_optics(frames))
    if not work.shown:
        raise AuditError(_no_cut(work))
    try:
        fit = fit_pupil(work.cuts, work.half_diagonal_mm, most_misfit=math.inf)
    except CalibrationRefused as error:
        raise AuditError(str(error)) from None
    found = _doubts(work, fit, loaded.kit)
    if fit.misfit > MOST_MISFIT:
        words = "; ".join(doubt.words for doubt in found if doubt.code == "piece")
        advice = words or "look at the rigs declared"
        raise AuditError(f"the frames contradict each other ({fit.misfit:.1f} times their errors); {advice}")
    return Calibration(
        lens_id=chosen.id,
        fit=fit,
        frames=_frame_cuts(work, fit),
        passed_over=tuple(work.passed_over),
        notes=tuple(_notes(work, fit)),
        doubts=found,
        values=kit_values(fit),
    )


def _doubts(work: Measured, fit: PupilFit, kit: Kit) -> tuple[Doubt, ...]:
    """What speaks against the fit; other pieces of the kit are tried where the frames could tell them."""

    def refit(swap: Swap) -> PupilFit:
        cuts = [cut for one in work.shown for cut in one.behind(swapped(one.rig, swap, kit))]
        return fit_pupil(cuts, work.half_diagonal_mm, most_misfit=math.inf)

    return doubts(fit, work.half_diagonal_mm, swaps([one.rig for one in work.shown], kit), refit)


def _lens(frames: pd.DataFrame, kit: Kit, wanted: str | None) -> Lens:
    """The one lens of the frames, or the one asked for."""
    sound = frames[frames["problem"].isna()]
    present = sorted(sound["lens_id"].dropna().unique())
    if wanted is not None:
        chosen = kit.lens(wanted)
        if chosen is None:
            raise AuditError(f'the kit has no lens "{wanted}"; {known_ids(wanted, kit.lenses)}')
        if wanted not in present:
            words = (
                f"these name {', '.join(present)}" if present else "photograph with it, or leave --lens out"
            )
            raise AuditError(f'no frame was taken with the lens "{wanted}"; {words}')
        return chosen
    strangers = sorted(sound.loc[sound["lens_id"].isna(), "lens"].dropna().unique())
    if len(present) + len(strangers) > 1:
        raise AuditError(
            f"frames of several lenses: {', '.join([*present, *strangers])}; choose one with --lens"
        )
    if not present:
        why = sound["lens_source"].dropna()
        words = why.iloc[0] if len(why) else "no kit"
        raise AuditError(
            f"no lens of the kit took these frames: {words}; `cornerstop kit new FOLDER --add` adds theirs"
        )
    found = kit.lens(present[0])
    assert found is not None
    return found


def _no_cut(work: Measured) -> str:
    """The reason that most frames share."""
    reason, count = Counter(reason for _, reason in work.passed_over).most_common(1)[0]
    total, uncut = len(work.passed_over), {frame for frame, *_ in work.uncut}
    if any(frame in uncut for frame, why in work.passed_over if why == reason):
        return f"no cut in any of {total} frames; photograph a rig that darkens the corners"
    return (
        f"no frame can be used: {reason} ({count} of {total} frames); `cornerstop calibrate --help` says "
        "what to photograph"
    )


def _frame_cuts(work: Measured, fit: PupilFit) -> tuple[FrameCut, ...]:
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
        for row, cut, against in ((one.row, one.cuts[0], one.against) for one in work.shown)
    )


def _notes(work: Measured, fit: PupilFit) -> list[str]:
    """What a reader should know beside the numbers."""
    notes = []
    for frame, seen, half in work.uncut:
        near = min(fit.pupils, key=lambda p: (p.wide_open, abs(p.focal_length_mm - seen.focal_length_mm)))
        shallow = near.told.values[:FIELD] - np.array([near.err(DEPTH), 0.0, 0.0])
        if onset_deg(seen, shallow, half) < seen.angle_deg - 1.0:
            notes.append(f"{frame} shows no cut where this depth puts one; look at the rig declared")
    if len({one.rig.key for one in work.shown}) == 1:
        notes.append(
            "one rig alone: a ring in the place of another, or a size wrong in the kit, would show as "
            "another depth; photograph a second rig"
        )
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
