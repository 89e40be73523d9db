"""What is assumed of a kit, and which measurement would decide the most corners."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from audit.corners.asked import understand
from audit.corners.predict import predict
from audit.corners.question import Question
from audit.corners.several import sensors
from audit.corners.whole_kit import rigs_on
from audit.errors import AuditError
from audit.jobs.corners import geometry
from audit.kit.kit import Kit, Lens

F_NUMBER = 8.0
"""One aperture of landscapes stands for all: common practice, no source."""

KNOWN_TO_MM = 2.1
"""A calibrated depth is off by so much at the 95 % mark: docs/accuracy.md."""

MOST_ASSUMED = 6


def assumed_lines(kit: Kit) -> Iterator[str]:
    """One line for what stands in for sizes left out, and one for each lens worth measuring."""
    words: dict[str, None] = {}
    gains: list[tuple[int, int, int, str]] = []
    for lens in kit.lenses:
        found = list(_verdicts(lens, kit))
        words.update(dict.fromkeys(one for _, assumed in found for one in assumed))
        risk = sum(verdict == "at risk" for verdict, _ in found)
        if risk and lens.pupil.assumed:
            sure = lens.model_copy(
                update={"pupil_depth_mm": lens.pupil.mm, "pupil_depth_err_mm": KNOWN_TO_MM}
            )
            left = sum(verdict == "at risk" for verdict, _ in _verdicts(sure, _with(kit, sure)))
            gains.append((risk - left, risk, len(found), lens.id))
    if words:
        yield f"assumed, at f/{F_NUMBER:g} and the shortest focal lengths: {_some(list(words))}"
    for decided, risk, count, name in sorted(gains, reverse=True):
        if decided > 0:
            yield (
                f"the pupil depth of {name} would decide about {decided} of the {risk} rigs at risk on it "
                f"(of {count}): `cornerstop calibrate`"
            )


def _with(kit: Kit, lens: Lens) -> Kit:
    lenses = tuple(lens if one.id == lens.id else one for one in kit.lenses)
    return kit.model_copy(update={"lenses": lenses})


def _verdicts(lens: Lens, kit: Kit) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Verdict and assumptions of each rig of one holder on a lens, on each sensor size that the kit tells."""
    if not kit.holders:
        return
    try:
        sizes = [size for size, _ in sensors(Question(lens=lens.id), kit, ()).sizes if size is not None]
    except AuditError:
        return
    for size in sizes:
        for _, question in rigs_on(lens, kit):
            if question.second is not None:
                continue
            try:
                asked = understand(replace(question, sensor_mm=size), kit)
            except AuditError:  # a rig that cannot be
                continue
            found = predict(asked.rig, geometry(asked, asked.focal_mm[0], F_NUMBER), asked.lens)
            yield found.verdict, found.assumed


def _some(names: Sequence[str]) -> str:
    more = len(names) - MOST_ASSUMED
    return ", ".join([*names[:MOST_ASSUMED], f"{more} more"] if more > 0 else names)
