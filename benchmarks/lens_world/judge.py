"""What the code says of a rig on a traced lens; beside `score.py` the only module that calls it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from audit.corners.leaning import leaning
from audit.corners.predict import predict
from audit.corners.verdict import geometry_of
from audit.corners.widest import widest_clear
from audit.declare import build_rig
from audit.declare.worn import Worn as Span
from audit.kit.kit import Kit, Lens
from audit.optics.rules import rule_of_thumb
from benchmarks.lens_world.rigs import Worn

SENSOR_MM = (36.0, 24.0)


@dataclass(frozen=True)
class Verdict:
    """`margin_deg` is the onset of half a stop less the corner's angle, `early_deg` and `late_deg` its band.

    `leaning` is "clear", "dark" or "cut", `leaning_sure` how surely; `widest_mm` the band's width in focal
    length, NaN where it was not asked for.
    """

    verdict: str
    best_stops: float
    worst_stops: float
    margin_deg: float
    early_deg: float
    late_deg: float
    rule: str
    leaning: str = ""
    leaning_sure: float = math.nan
    widest_mm: float = math.nan


def judge(
    worn: Worn,
    lens: Lens,
    focal_mm: float,
    f_number: float,
    formats: str,
    *,
    with_widest: bool,
) -> Verdict:
    """The prediction for one frame as the audit makes it, from the kit and the span."""
    rig = build_rig(Span.model_validate({"files": ("X",), **worn.span}), Kit.model_validate(worn.kit))

    def row(focal: float) -> dict[str, object]:
        return {
            "focal_length_mm": focal,
            "sensor_width_mm": SENSOR_MM[0],
            "sensor_height_mm": SENSOR_MM[1],
            "sensor_err": 0.0,
            "f_number_exact": f_number,
            "subject_distance_m": None,
            "formats": formats,
        }

    geometry = geometry_of(row(focal_mm), lens, None)
    found = predict(rig, geometry, lens)
    leans = leaning(found)
    diagonal = 2 * geometry.half_diagonal_mm
    rule, _ = rule_of_thumb(focal_mm, diagonal, rig.ring_kind, bool(rig.second_holder), lens.thread_mm)
    width = math.nan
    if with_widest:
        widest = widest_clear(rig, lambda f: geometry_of(row(f), lens, None), diagonal / 2, lens)
        width = widest.worst_mm - widest.best_mm
    return Verdict(
        found.verdict,
        found.loss_min_stops,
        found.loss_max_stops,
        found.onset_deg - found.angle_deg,
        found.early_deg,
        found.late_deg,
        rule,
        leans.towards,
        leans.share,
        width,
    )
