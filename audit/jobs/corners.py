"""The corner question in one readable function: the rig, its losses, the widest clear, what would help."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from math import isinf
from pathlib import Path

import numpy as np

from audit.corners.answer import Answer, Answers, Case, Help, Told, Widest
from audit.corners.asked import Asked, rig_line, understand
from audit.corners.changes import changes
from audit.corners.predict import Geometry, predict
from audit.corners.prediction import CLEAR_STOPS, CUT_STOPS
from audit.corners.question import Question
from audit.corners.several import Part, parts, sensors
from audit.corners.verdict import geometry_of
from audit.corners.widest import widest_clear, widest_clear_middle_mm
from audit.declare import find_kit, load
from audit.declare.rig import Rig
from audit.errors import AuditError
from audit.kit.kit import Kit, Lens
from audit.kit.lens_data import LensData, find_lens
from audit.optics.arrays import Floats
from audit.optics.crop import Crop, clean_crop
from audit.optics.exposure import snap_f_number

F_NUMBERS = (4.0, 8.0, 11.0, 16.0)
"""Looked at unasked."""

LONG_SIDE_PX = 6000
"""Stand-in for the picture's pixels; only the share of a crop is told."""

BLACK = 10.0
"""Losses beyond this count as black when gains are compared."""


def kit_at(kit_path: Path | None) -> Kit:
    """The kit of a file; without one, that of the folder we are in or of the user's configuration.

    Raises DeclarationError with every mistake when the kit cannot be understood.
    """
    return load(None, kit_path or find_kit(Path())).kit


def ask_all(
    question: Question,
    kit: Kit,
    *,
    bodies: Sequence[str] = (),
    rigs: Sequence[str] = (),
    one: Sequence[str] = (),
    helps: bool = True,
) -> Answers:
    """An answer for each sensor size of the bodies (all of the kit) and each rig, written as --rig is.

    `one` names what can be done with one answer only: options that are refused where there are several.
    `helps` says whether what would help is wanted of several rigs too. Raises AuditError.
    """
    found = sensors(question, kit, bodies, by_numbers=question.lens is None)
    asked = parts(question, found, rigs)
    if one and len(asked) > 1:
        raise AuditError(
            f"{one[0]}: {len(asked)} answers, but it holds one; choose with --body or --sensor, and one rig"
        )
    return Answers(tuple(_told(part, kit, helps or len(rigs) < 2) for part in asked), found.left_out)


def _told(part: Part, kit: Kit, helps: bool) -> Told:
    try:
        return Told(part.rig, part.bodies, ask(part.question, kit, helps=helps))
    except AuditError as error:
        if not part.rig:
            raise
        raise AuditError(f"--rig {part.rig}: {error}") from None


def ask(question: Question, kit: Kit, *, helps: bool = True) -> Answer:
    """Answers a question about a rig, with or without what would help. Raises AuditError."""
    asked = understand(question, kit)
    f_numbers = tuple(sorted(set(question.f_numbers or F_NUMBERS)))
    cases = tuple(_case(asked, focal, n) for focal in asked.focal_mm for n in f_numbers)
    shown = max((c for c in cases if c.focal_length_mm == asked.focal_mm[0]), key=_losses)
    widest = {n: widest_clear(*search(asked, n)) for n in f_numbers}
    crops = [_crop(asked, losses) for losses in (shown.prediction.middle, shown.prediction.worst)]
    assumed = dict.fromkeys(words for case in cases for words in case.prediction.assumed)
    return Answer(
        lens_words=_lens_words(asked.lens),
        rig_words=rig_line(asked.worn, asked.kit),
        sensor_mm=asked.sensor_mm,
        size_px=_pixels(asked.sensor_mm),
        depth_words=_depth_words(asked),
        cases=cases,
        widest=widest,
        shown=shown,
        crop=crops[0],
        crop_worst=crops[1],
        helps=_helps(asked, shown, widest[shown.f_number], crops[0]) if helps else (),
        assumed=tuple(assumed),
    )


def geometry(asked: Asked, focal_mm: float, f_number: float) -> Geometry:
    """A far subject; the picture may be corrected for distortion or not, as a camera's JPEG."""
    row = {
        "focal_length_mm": focal_mm,
        "f_number_exact": snap_f_number(f_number)[0],
        "sensor_width_mm": asked.sensor_mm[0],
        "sensor_height_mm": asked.sensor_mm[1],
        "sensor_err": 0.0,
        "subject_distance_m": None,
        "formats": "JPEG",
    }
    return geometry_of(row, asked.lens, _open_data(asked.lens))


def _open_data(lens: Lens) -> LensData | None:
    """Open lens data by the names that EXIF gives the lens."""
    found = (find_lens(None, None, name, *lens.focal_mm) for name in lens.exif)
    return next((data for data in found if data is not None), None)


def _case(asked: Asked, focal_mm: float, f_number: float) -> Case:
    return Case(focal_mm, f_number, predict(asked.rig, geometry(asked, focal_mm, f_number), asked.lens))


def search(asked: Asked, f_number: float) -> tuple[Rig, Callable[[float], Geometry], float, Lens]:
    """What the search for the widest clear focal length takes."""
    half_diagonal = float(np.hypot(*asked.sensor_mm)) / 2
    return asked.rig, lambda focal: geometry(asked, focal, f_number), half_diagonal, asked.lens


def _losses(case: Case) -> tuple[float, float, float]:
    """Middle, worst and best loss: the order in which a case is the worse one."""
    found = case.prediction
    return found.loss_stops, found.loss_max_stops, found.loss_min_stops


def _pixels(sensor_mm: tuple[float, float]) -> tuple[int, int]:
    """Pixels that stand in for the picture's; only shares of a crop are told."""
    width, height = sensor_mm
    scale = LONG_SIDE_PX / max(width, height)
    return round(width * scale), round(height * scale)


def _crop(asked: Asked, losses: Floats) -> Crop | None:
    return clean_crop(losses, *_pixels(asked.sensor_mm), "same", most_loss=CUT_STOPS)


def _helps(asked: Asked, shown: Case, widest: Widest, crop: Crop | None) -> tuple[Help, ...]:
    if shown.prediction.verdict == "clear":
        return ()
    share = crop.share if crop else 0.0
    found = [*_changed(asked, shown, widest, share)]
    if crop is not None and crop.share < 1:
        found.append(_cropped(asked, shown, crop))
    return tuple(sorted(found, key=lambda h: (-h.regained_stops, -(h.wider_mm or 0.0), -h.cleaner)))


def _changed(asked: Asked, shown: Case, widest: Widest, share: float) -> Iterator[Help]:
    before = shown.prediction
    for change in changes(asked):
        after = _case(change.asked, shown.focal_length_mm, shown.f_number).prediction
        losses = after.loss_min_stops, after.loss_stops, after.loss_max_stops
        regained = _regained(before.loss_stops, after.loss_stops)
        regained += _regained(before.loss_max_stops, after.loss_max_stops)
        clear_mm = widest_clear_middle_mm(*search(change.asked, shown.f_number))
        wider_mm = _wider(widest.middle_mm, clear_mm)
        crop = _crop(asked, after.middle)
        left = crop.share if crop else 0.0
        yield Help(change.words, losses, after.verdict, regained, clear_mm, wider_mm, left, left - share)


def _cropped(asked: Asked, shown: Case, crop: Crop) -> Help:
    """What is left in the corners of a crop; its cells are those inside."""
    width, height = _pixels(asked.sensor_mm)
    rows, columns = shown.prediction.middle.shape
    x0, x1 = (np.array([crop.left_px, crop.left_px + crop.width_px]) * (columns - 1) / width).round(6)
    y0, y1 = (np.array([crop.top_px, crop.top_px + crop.height_px]) * (rows - 1) / height).round(6)
    inside = np.s_[int(np.ceil(y0)) : int(y1) + 1, int(np.ceil(x0)) : int(x1) + 1]
    before = shown.prediction
    best, middle, worst = (float(m[inside].max()) for m in (before.best, before.middle, before.worst))
    verdict = "clear" if worst < CLEAR_STOPS else "cut" if best >= CUT_STOPS else "at risk"
    regained = _regained(before.loss_stops, middle) + _regained(before.loss_max_stops, worst)
    words = f"a crop to {100 * crop.share:.0f} % of the picture"
    return Help(words, (best, middle, worst), verdict, regained, None, None, crop.share, 0.0)


def _regained(before: float, after: float) -> float:
    return min(before, BLACK) - min(after, BLACK)


def _wider(before_mm: float, after_mm: float) -> float:
    return 0.0 if isinf(before_mm) and isinf(after_mm) else before_mm - after_mm


def _lens_words(lens: Lens) -> str:
    short, long = lens.focal_mm
    span = f"{short:g} mm" if short == long else f"{short:g} to {long:g} mm"
    thread = f", {lens.thread_mm:g} mm thread" if lens.thread_mm else ""
    return f"{lens.id}, {span}{thread}"


def _depth_words(asked: Asked) -> str:
    depth = asked.lens.pupil_at(asked.focal_mm[0])
    return f"{depth.mm:.1f} mm ({depth.low_mm:.1f} to {depth.high_mm:.1f}) behind the thread"
