"""The lens and the sensor of a question, by ids of the kit or by numbers."""

from __future__ import annotations

from collections.abc import Iterable

from audit.corners.question import Question
from audit.errors import AuditError
from audit.kit.kit import FOCAL_SLACK, Holder, Kit, Lens, Ring
from audit.toml.fault import suggestion

USUAL_FOCAL_MM = (8, 10, 12, 14, 16, 18, 20, 24, 28, 35, 50, 70, 100, 135, 200, 300, 400)
"""Focal lengths of a zoom that are looked at unasked; common practice, no source."""


def asked_lens(question: Question, kit: Kit) -> Lens:
    """The kit's lens, or one made of numbers; its depth of pupil as asked. Raises AuditError."""
    if question.lens is None:
        return _lens_by_numbers(question, kit)
    lens = kit.lens(question.lens)
    if lens is None:
        raise AuditError(
            f'--lens: "{question.lens}" is not in the kit; {known_ids(question.lens, kit.lenses)}'
        )
    if question.thread_mm is not None and lens.thread_mm not in (None, question.thread_mm):
        raise AuditError(
            f'--thread: the kit gives lens "{lens.id}" {lens.thread_mm:g} mm; leave --thread out, or --lens'
        )
    _within(lens, question.focal_mm)
    changed = {"thread_mm": question.thread_mm or lens.thread_mm}
    return Lens.model_validate({**lens.model_dump(), **changed, **_depth(question, lens.pupil_depth_mm)})


def _lens_by_numbers(question: Question, kit: Kit) -> Lens:
    missing = [
        option
        for option, given in (
            ("--focal", question.focal_mm),
            ("--sensor", question.sensor_mm),
            ("--thread", question.thread_mm),
        )
        if not given
    ]
    if missing:
        ids = ", ".join(lens.id for lens in kit.lenses)
        named = f"--lens (the kit has {ids})" if ids else "--lens of a kit"
        raise AuditError(f"corners: give {named}, or the numbers; missing: {', '.join(missing)}")
    span = (min(question.focal_mm), max(question.focal_mm))
    return Lens.model_validate(
        {"id": "the lens", "thread_mm": question.thread_mm, "focal_mm": span, **_depth(question, None)}
    )


def _depth(question: Question, known_mm: float | None) -> dict[str, object]:
    """The depth of the pupil as asked, in place of all that the kit says of it."""
    if question.depth_mm is None:
        if question.depth_err_mm is None:
            return {}
        if known_mm is None:
            raise AuditError("--depth-err: needs --depth beside it")
        return {"pupil_depth_err_mm": question.depth_err_mm}
    unset = {"pupil_depths": None, "pupil_drift_mm": None, "pupil_drift_err_mm": None}
    return {**unset, "pupil_depth_mm": question.depth_mm, "pupil_depth_err_mm": question.depth_err_mm}


def usual_focal_mm(lens: Lens) -> tuple[float, ...]:
    """Focal lengths of a lens that are looked at unasked."""
    short, long = lens.focal_mm
    return tuple(sorted({short, *(float(f) for f in USUAL_FOCAL_MM if short < f < long), long}))


def _within(lens: Lens, focal_mm: Iterable[float]) -> None:
    short, long = lens.focal_mm
    for focal in focal_mm:
        if not short * (1 - FOCAL_SLACK) <= focal <= long * (1 + FOCAL_SLACK):
            reach = f"{short:g}" if short == long else f"{short:g} to {long:g}"
            raise AuditError(f'--focal: {focal:g} mm, but lens "{lens.id}" of the kit has {reach} mm')


def asked_sensor(question: Question, kit: Kit) -> tuple[float, float]:
    """The sensor as asked, or the only one among the kit's bodies; raises AuditError."""
    if question.sensor_mm is not None:
        return question.sensor_mm
    sizes = {body.sensor_mm: body.name for body in kit.bodies if body.sensor_mm is not None}
    if len(sizes) == 1:
        return next(iter(sizes))
    found = ", ".join(f"{name} {size[0]:g}x{size[1]:g}" for size, name in sizes.items())
    why = f"the kit's bodies differ ({found})" if sizes else "the kit gives no sensor_mm"
    raise AuditError(f"--sensor: {why}; give it in mm, like 36x24")


def known_ids(word: str, parts: Iterable[Lens | Ring | Holder]) -> str:
    """The nearest id, or all of them, for a message."""
    ids = [part.id for part in parts]
    return suggestion(word, ids, "it has {known_key}") if ids else "there is none in it"
