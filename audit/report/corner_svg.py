"""The answer to a corner question as a picture of the frame: one SVG file that needs nothing else."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from math import isinf
from typing import Any

from audit.corners.answer import Answer, Case, Help, Widest
from audit.corners.prediction import CORNERS
from audit.optics.crop import Crop
from audit.report.diagram import LONG_SIDE, CornerDiagram, Drawing, draw
from audit.report.templating import environment
from audit.report.terminal import case_words, onset_words
from audit.report.words import corner_loss, widest_clear

CORNER_NAMES = dict(
    zip(("top_left", "top_right", "bottom_left", "bottom_right"), range(len(CORNERS)), strict=True)
)
SIDE_NAMES = ("top", "bottom", "left", "right")
LOSS_NAMES = ("3_percent", "tenth_stop", "half_stop", "one_stop", "black")


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
        "null_means": "loss: black; angle or focal length: none",
    }


def _case(case: Case) -> dict[str, Any]:
    found = case.prediction
    return {
        "focal_length_mm": case.focal_length_mm,
        "f_number": case.f_number,
        "verdict": found.verdict,
        "loss_stops": _band(found.loss_min_stops, found.loss_stops, found.loss_max_stops),
        "corners": {name: _band(*found.corner_stops[at]) for name, at in CORNER_NAMES.items()},
        "corner_deg": round(found.angle_deg, 2),
        "sides": dict(zip(SIDE_NAMES, map(_number, found.side_stops), strict=True)),
        "lost_from_deg": dict(zip(LOSS_NAMES, map(_angle, found.angles_deg), strict=True)),
        "early_deg": round(found.early_deg, 2),
        "late_deg": round(found.late_deg, 2),
        "limited_by": found.limits,
    }


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


MARGIN, GAP, LINE = 16.0, 24.0, 18.0
FRAME_LONG_SIDE, BESIDE = 320.0, 270.0
"""Length of the frame's long side and width of what stands beside it, px."""
WRAP = 42
LEGEND = (
    ("sure_black", "black", "no light, surely"),
    ("maybe_black", "maybe-black", "no light, perhaps from here on"),
    ("sure_half", "sure-half", "half a stop lost, surely"),
    ("maybe_half", "maybe", "half a stop lost, perhaps"),
    ("crop", "crop", "largest clean crop of this shape"),
)


@dataclass(frozen=True)
class SvgLine:
    """A line of words at a height; `style` is a class of the style sheet."""

    y: float
    words: str
    style: str = ""


@dataclass(frozen=True)
class SvgSheet:
    """Everything the template places, px."""

    width: float
    height: float
    frame_width: float
    frame_height: float
    beside: float
    drawing: Drawing
    lines: tuple[SvgLine, ...]
    legend: tuple[SvgLine, ...]


def svg(answer: Answer) -> str:
    """The picture as text."""
    return environment().get_template("corners.svg").render(sheet=_sheet(answer), margin=MARGIN)


def _sheet(answer: Answer) -> SvgSheet:
    drawing = _drawing(answer)
    scale = FRAME_LONG_SIDE / LONG_SIDE
    frame_width, frame_height = float(drawing.width) * scale, float(drawing.height) * scale
    lines = _lines(answer)
    y = lines[-1].y + GAP
    legend = []
    for field, style, words in LEGEND:
        if getattr(drawing, field):
            legend.append(SvgLine(y, words, style))
            y += LINE
    height = max(frame_height + 2 * MARGIN, y)
    beside = MARGIN + frame_width + GAP
    return SvgSheet(
        beside + BESIDE + MARGIN,
        height,
        frame_width,
        frame_height,
        beside,
        drawing,
        tuple(lines),
        tuple(legend),
    )


def _drawing(answer: Answer) -> Drawing:
    crop = answer.crop if answer.crop is not None and answer.crop.share < 1 else None
    prediction = answer.shown.prediction
    title = f"Corners at {case_words(answer.shown)}: {prediction.verdict}"
    return draw(
        CornerDiagram("asked", *answer.sensor_mm, 1, title, crop, answer.size_px, prediction), "frame"
    )


def _lines(answer: Answer) -> list[SvgLine]:
    found = answer.shown.prediction
    lost = corner_loss(found.loss_min_stops, found.loss_max_stops)
    widest = answer.widest[answer.shown.f_number]
    words = [
        (f"{case_words(answer.shown)}: {found.verdict}", "title"),
        (lost, ""),
        (onset_words(found), ""),
        (f"limited by the {found.limits}", "") if found.limits else ("", ""),
        (clear_words(widest), ""),
        (answer.rig_words, "soft"),
        (answer.lens_words, "soft"),
    ]
    y, lines = MARGIN + LINE - 4, []
    for text, style in words:
        for part in textwrap.wrap(text, WRAP):
            lines.append(SvgLine(y, part, style))
            y += LINE
    return lines


def clear_words(widest: Widest) -> str:
    """The widest clear focal length in words; nothing wider than the floor is looked at."""
    if widest.worst_mm <= widest.floor_mm:
        return "clear at any focal length"
    return widest_clear(widest.middle_mm, widest.best_mm, widest.worst_mm)
