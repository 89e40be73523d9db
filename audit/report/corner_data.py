"""The answer to a corner question as data, ready for JSON."""

from __future__ import annotations

from math import isinf
from typing import Any

from audit.corners.answer import Answer, Answers, Case, Help, Widest
from audit.corners.leaning import leaning
from audit.corners.prediction import CORNERS, Prediction
from audit.corners.whole_kit import KitCell, WholeKit
from audit.optics.crop import Crop

CORNER_NAMES = dict(
    zip(("top_left", "top_right", "bottom_left", "bottom_right"), range(len(CORNERS)), strict=True)
)
SIDE_NAMES = ("top", "bottom", "left", "right")
LOSS_NAMES = ("3_percent", "tenth_stop", "half_stop", "one_stop", "black")


NULL_MEANS = "loss: black; angle or focal length: none"


def answers_data(answers: Answers) -> dict[str, Any]:
    """One answer as it is; several as a list, each with its rig (null: not named) and bodies beside it."""
    if len(answers.told) == 1:
        return as_data(answers.told[0].answer)
    return {
        "answers": [
            {"rig_name": one.rig or None, "bodies": list(one.bodies), **as_data(one.answer)}
            for one in answers.told
        ],
        "bodies_left_out": list(answers.left_out),
        "cuts": answers.cuts,
    }


def kit_data(kit: WholeKit) -> dict[str, Any]:
    """The whole kit: a list of every rig on every lens that it fits."""
    return {
        "whole_kit": [_kit_cell(cell) for cell in kit.cells],
        "steps": list(kit.steps),
        "bodies_left_out": list(kit.no_sensor),
        "left_out": list(kit.left_out),
        "assumed": list(kit.assumed),
        "cuts": kit.cuts,
        "null_means": NULL_MEANS,
    }


def _kit_cell(cell: KitCell) -> dict[str, Any]:
    found = cell.prediction
    return {
        "lens": cell.lens,
        "ring": cell.rig.ring or None,
        "behind": list(cell.behind),
        "holder": cell.rig.holder,
        "second": cell.rig.second or None,
        "front": cell.rig.front,
        "sensor_mm": list(cell.sensor_mm),
        "bodies": list(cell.bodies),
        "focal_length_mm": cell.focal_length_mm,
        "f_number": cell.f_number,
        "verdict": found.verdict,
        "leaning": _leaning(found),
        "loss_stops": _band(found.loss_min_stops, found.loss_stops, found.loss_max_stops),
        "widest_clear_mm": _number(cell.clear_mm),
        "not_looked_below_mm": round(cell.floor_mm, 1),
    }


def as_data(answer: Answer) -> dict[str, Any]:
    """JSON-ready. Losses in stops, lengths in mm, angles in degrees; null: black, or never."""
    return {
        "lens": answer.lens_words,
        "sensor_mm": list(answer.sensor_mm),
        "pupil": answer.depth_words,
        "rig": answer.rig_words,
        "assumed": list(answer.assumed),
        "cuts": answer.cuts,
        "cases": [_case(case) for case in answer.cases],
        "widest_clear": [{"f_number": n, **_widest(widest)} for n, widest in answer.widest.items()],
        "helps_at": {
            "focal_length_mm": answer.shown.focal_length_mm,
            "f_number": answer.shown.f_number,
        },
        "helps": [_help(help_) for help_ in answer.helps],
        "crop": _crop(answer.crop),
        "crop_worst": _crop(answer.crop_worst),
        "null_means": NULL_MEANS,
    }


def _case(case: Case) -> dict[str, Any]:
    found = case.prediction
    return {
        "focal_length_mm": case.focal_length_mm,
        "f_number": case.f_number,
        "verdict": found.verdict,
        "leaning": _leaning(found),
        "loss_stops": _band(found.loss_min_stops, found.loss_stops, found.loss_max_stops),
        "corners": {name: _band(*found.corner_stops[at]) for name, at in CORNER_NAMES.items()},
        "corner_deg": round(found.angle_deg, 2),
        "sides": dict(zip(SIDE_NAMES, map(_number, found.side_stops), strict=True)),
        "lost_from_deg": dict(zip(LOSS_NAMES, map(_angle, found.angles_deg), strict=True)),
        "early_deg": round(found.early_deg, 2),
        "late_deg": round(found.late_deg, 2),
        "limited_by": found.limits,
    }


def _leaning(found: Prediction) -> dict[str, Any] | None:
    """What an undecided corner probably is, how likely, and the quartiles of its loss."""
    if found.verdict != "at risk":
        return None
    leans = leaning(found)
    likely = [_number(leans.low_stops), _number(leans.high_stops)]
    return {"towards": leans.towards, "share": round(leans.share, 2), "likely_stops": likely}


def _widest(widest: Widest) -> dict[str, Any]:
    return {
        "focal_length_mm": _band(widest.best_mm, widest.middle_mm, widest.worst_mm),
        "not_looked_below_mm": round(widest.floor_mm, 1),
    }


def _help(help_: Help) -> dict[str, Any]:
    return {
        "change": help_.words,
        "loss_stops": _band(*help_.losses),
        "verdict": help_.verdict,
        "widest_clear_mm": None if help_.clear_mm is None else _number(help_.clear_mm),
        "wider_mm": None if help_.wider_mm is None else _number(help_.wider_mm),
        "clean_crop_share": round(help_.clean_share, 4),
        "helps": help_.helps,
    }


def _crop(crop: Crop | None) -> dict[str, Any] | None:
    return None if crop is None else {"share": round(crop.share, 4)}


def _band(best: float, middle: float, worst: float) -> dict[str, float | None]:
    return {"best": _number(best), "middle": _number(middle), "worst": _number(worst)}


def _angle(degrees: float) -> float | None:
    return None if degrees >= 90 else round(degrees, 2)


def _number(value: float) -> float | None:
    return None if isinf(value) else round(value, 3)
