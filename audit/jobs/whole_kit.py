"""Every lens of a kit with every rig that fits it: one verdict and one focal length each."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from audit.corners.asked import Asked, asked_lens, asked_sensor, understand
from audit.corners.predict import predict
from audit.corners.question import Question
from audit.corners.several import Sensors, sensors
from audit.corners.whole_kit import KitCell, KitRig, WholeKit, left_out, rigs_on
from audit.corners.widest import FLOOR, widest_clear_middle_mm
from audit.errors import AuditError
from audit.jobs.corners import geometry, search
from audit.kit.kit import Kit, Lens

F_NUMBER = 8.0
"""Looked at unasked; one, so that the table stays one."""


def ask_kit(question: Question, kit: Kit, bodies: Sequence[str] = ()) -> WholeKit:
    """The whole kit, or one lens of it, on the sensors of the bodies; raises AuditError.

    Of the question only lens, sensor and f-numbers count.
    """
    if not kit.lenses or not kit.holders:
        lacking = "holder" if kit.lenses else "lens"
        raise AuditError(f"--all: the kit has no {lacking}; add it there, or ask with numbers instead")
    lenses = [asked_lens(question, kit)] if question.lens else list(kit.lenses)
    found = sensors(question, kit, bodies)
    if found.sizes[0][0] is None:
        asked_sensor(question, kit)  # says what to write
    cells = tuple(_cells(question, kit, lenses, found))
    used = dict.fromkeys((c.lens, step) for c in cells for step in c.behind)
    return WholeKit(
        cells=cells,
        no_sensor=found.left_out,
        steps=tuple(f"{step} below the ring on {lens}" for lens, step in used),
        left_out=left_out(kit, lenses),
    )


def _cells(question: Question, kit: Kit, lenses: Sequence[Lens], found: Sensors) -> Iterator[KitCell]:
    for size, names in found.sizes:
        for f_number in sorted(set(question.f_numbers)) or [F_NUMBER]:
            for lens in lenses:
                for rig, one in rigs_on(lens, kit):
                    asked = _understood(replace(one, sensor_mm=size), kit)
                    if asked is not None:
                        yield _cell(rig, asked, names, f_number)


def _understood(question: Question, kit: Kit) -> Asked | None:
    """None for a rig that the rules of rigs refuse: its place in the table stays empty."""
    try:
        return understand(question, kit)
    except AuditError:
        return None


def _cell(rig: KitRig, asked: Asked, bodies: tuple[str, ...], f_number: float) -> KitCell:
    focal_mm = asked.focal_mm[0]
    return KitCell(
        rig=rig,
        lens=asked.lens.id,
        behind=asked.worn.behind,
        sensor_mm=asked.sensor_mm,
        bodies=bodies,
        focal_length_mm=focal_mm,
        f_number=f_number,
        prediction=predict(asked.rig, geometry(asked, focal_mm, f_number), asked.lens),
        clear_mm=widest_clear_middle_mm(*search(asked, f_number)),
        floor_mm=FLOOR * math.hypot(*asked.sensor_mm) / 2,
    )
