"""The answer to a corner question as a picture of the frame: one SVG file that needs nothing else."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from audit.corners.answer import Answer, Widest
from audit.report.diagram import LONG_SIDE, CornerDiagram, Drawing, draw
from audit.report.templating import environment
from audit.report.terminal import case_words, loss_words, onset_words
from audit.report.words import widest_clear

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
    lost = loss_words(found)
    widest = answer.widest[answer.shown.f_number]
    words = [
        (f"{case_words(answer.shown)}: {found.verdict}", "title"),
        (lost, ""),
        (onset_words(found), ""),
        (f"the {found.limits} is in the way", "") if found.limits else ("", ""),
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
