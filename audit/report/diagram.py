"""The corner verdict as a small drawing of the frame, with the cut to scale, as paths for an inline SVG.

Zones come from the predicted maps: row by row the clear part is one interval, so that what is lost is the
frame without the outline of those intervals.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from audit.corners.prediction import BLACK_STOPS, CUT_STOPS, Prediction
from audit.message.figures import number
from audit.message.text import joined, marked, say
from audit.optics.arrays import Floats
from audit.optics.crop import TURNS, Crop, oriented
from audit.report.coordinates import tenth
from audit.report.words import corner_loss, known, text
from audit.result import Result


def frame_diagrams(result: Result) -> list[CornerDiagram | None]:
    """One diagram a frame in the table's order, None where there is no verdict or nothing before the lens."""
    return [_diagram(row, result) for row in result.rows]


def _diagram(row: Mapping[str, Any], result: Result) -> CornerDiagram | None:
    prediction, rig = result.corners.get(text(row["corner"])), result.rigs.get(text(row["rig"]))
    if prediction is None or rig is None or not rig.openings:
        return None
    lost = corner_loss(prediction.loss_min_stops, prediction.loss_max_stops)
    title = say(
        "Corners {verdict}: {lost}, predicted at {focal} mm, f/{number}",
        verdict=prediction.verdict,
        lost=lost,
        focal=number(float(row["focal_length_mm"])),
        number=number(float(row["f_number_exact"])),
    )
    return CornerDiagram(
        text(row["corner"]),
        float(row["sensor_width_mm"]),
        float(row["sensor_height_mm"]),
        int(row["orientation"]) if known(row["orientation"]) else 1,
        title,
        _crop_of(row),
        (int(row["width_px"]), int(row["height_px"])) if known(row["width_px"]) else (0, 0),
        prediction,
    )


def _crop_of(row: Mapping[str, Any]) -> Crop | None:
    if not known(row["clean_crop"]):
        return None
    return Crop.read(text(row["clean_crop"]), float(row["clean_crop_share"]))


LONG_SIDE = 150.0
"""Length of the frame's long side in the drawing's own units; hatches keep one size on every sensor."""
SMOOTHED = 4
"""Times an outline is averaged with its neighbours: where light turns to black within a cell it has steps."""
HALF = (
    marked("Nowhere along the diagonals is it predicted that half a stop is lost."),
    marked("It may be that half a stop is lost from {worst:.0f} mm outwards."),
    marked(
        "It is predicted that half a stop is lost from {best:.0f} mm outwards, perhaps from {worst:.0f} mm."
    ),
)
DARK = (
    marked("Nowhere along the diagonals is it predicted that no light arrives."),
    marked("It may be that no light arrives from {worst:.0f} mm outwards."),
    marked("It is predicted that no light arrives from {best:.0f} mm outwards, perhaps from {worst:.0f} mm."),
)
"""What the drawing says of a loss: nowhere, only at the worst end of the band, or at both ends."""


@dataclass(frozen=True)
class CornerDiagram:
    """What one drawing shows; equal records share one drawing.

    `corner` names the prediction, sides are those of the sensor area as stored, `orientation` turns it to
    the picture as held, `crop` lies in the stored picture of `size_px`.
    """

    corner: str
    width_mm: float
    height_mm: float
    orientation: int
    title: str
    crop: Crop | None = None
    size_px: tuple[int, int] = (0, 0)
    prediction: Prediction | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True)
class Drawing:
    """Paths of one drawing in its own units; "" where a zone lies outside the frame."""

    id: str
    width: str
    height: str
    maybe_half: str
    sure_half: str
    maybe_black: str
    sure_black: str
    crop: str
    cross: str
    title: str
    description: str

    @property
    def nothing(self) -> bool:
        """Whether no loss is predicted anywhere: there is nothing to draw then."""
        return not (self.maybe_half or self.sure_half or self.maybe_black or self.sure_black)


def drawings(diagrams: Iterable[CornerDiagram]) -> dict[CornerDiagram, Drawing]:
    """One drawing for each distinct diagram, named c1, c2 ... in order of first use."""
    distinct = dict.fromkeys(diagrams)
    return {diagram: draw(diagram, f"c{n}") for n, diagram in enumerate(distinct, start=1)}


def draw(diagram: CornerDiagram, name: str) -> Drawing:
    """The drawing of one diagram. Raises ValueError for one without area or prediction."""
    if diagram.prediction is None or not (diagram.width_mm > 0 and diagram.height_mm > 0):
        raise ValueError(f"frame of {diagram.width_mm} x {diagram.height_mm} mm cannot be drawn")
    best = as_held(diagram.prediction.best, diagram.orientation)
    worst = as_held(diagram.prediction.worst, diagram.orientation)
    sides = (diagram.width_mm, diagram.height_mm)
    wide, high = sides[::-1] if diagram.orientation >= 5 else sides
    scale = LONG_SIDE / max(wide, high)
    width, height = wide * scale, high * scale
    frame = f"M0 0H{tenth(width)}V{tenth(height)}H0Z"

    def zone(losses: Floats, level: float, around: str) -> str:
        clear = _clear(losses, level, width, height)
        return "" if clear is None else around + clear

    return Drawing(
        id=name,
        width=tenth(width),
        height=tenth(height),
        maybe_half=zone(worst, CUT_STOPS, frame),
        sure_half=zone(best, CUT_STOPS, frame),
        maybe_black=zone(worst, BLACK_STOPS, ""),
        sure_black=zone(best, BLACK_STOPS, frame),
        crop=_crop(diagram, width, height),
        cross=f"M{tenth(width / 2 - 3)} {tenth(height / 2)}h6M{tenth(width / 2)} {tenth(height / 2 - 3)}v6",
        title=diagram.title,
        description=describe(diagram),
    )


def describe(diagram: CornerDiagram) -> str:
    """What the drawing shows, for those who cannot see it."""
    assert diagram.prediction is not None
    corner = float(np.hypot(diagram.width_mm, diagram.height_mm)) / 2
    frame = say(
        "Frame of {width:.1f} by {height:.1f} mm, corner at {corner:.1f} mm.",
        width=diagram.width_mm,
        height=diagram.height_mm,
        corner=corner,
    )
    ends = diagram.prediction.worst, diagram.prediction.best
    half = _reach(HALF, [_first_mm(end, CUT_STOPS, corner) for end in ends])
    black = _reach(DARK, [_first_mm(end, BLACK_STOPS, corner) for end in ends])
    crop = marked("A line marks the clean crop.") if diagram.crop else ""
    return joined([frame, half, black, crop], " ")


def as_held(losses: Floats, orientation: int) -> Floats:
    """A map of the stored picture as the picture is shown (EXIF orientation)."""
    across, down, swapped = TURNS.get(orientation, TURNS[1])
    turned = losses[:: -1 if down else 1, :: -1 if across else 1]
    return turned.T if swapped else turned


def _first_mm(losses: Floats, level: float, corner_mm: float) -> float | None:
    """Image height at which a loss is first reached along any half diagonal; None where it never is."""
    rows, columns = losses.shape
    share = np.linspace(0.0, 1.0, 200)
    first = []
    for across in (-1, 1):
        for down in (-1, 1):
            i = np.rint((1 + down * share) * (rows - 1) / 2).astype(int)
            j = np.rint((1 + across * share) * (columns - 1) / 2).astype(int)
            reached = np.flatnonzero(losses[i, j] >= level)
            first += [float(share[reached[0]]) * corner_mm] if len(reached) else []
    return min(first, default=None)


def _reach(messages: tuple[str, str, str], heights_mm: list[float | None]) -> str:
    """By the first height at the worst and at the best end: nowhere, only at worst, or at both."""
    nowhere, may_be, sure = messages
    worst, best = heights_mm
    if worst is None:
        return nowhere
    if best is None:
        return say(may_be, worst=worst)
    return say(sure, best=best, worst=worst)


def _clear(losses: Floats, level: float, width: float, height: float) -> str | None:
    """Outline of the part that loses less than a level; None where that is the whole frame, "" for none."""
    passed, wanted = 2.0**-losses, 2.0**-level
    if (passed > wanted).all():
        return None
    rows, columns = losses.shape
    inside = [(i, np.flatnonzero(row > wanted)) for i, row in enumerate(passed) if (row > wanted).any()]
    y = [height * i / (rows - 1) for i, _ in inside]
    left = _smooth([_edge(passed[i], cells[0], -1, wanted) for i, cells in inside], columns)
    right = _smooth([_edge(passed[i], cells[-1], 1, wanted) for i, cells in inside], columns)
    across = width / (columns - 1)
    outline = [*zip(right * across, y, strict=True), *reversed(list(zip(left * across, y, strict=True)))]
    return "M" + "L".join(f"{tenth(x)} {tenth(y)}" for x, y in outline) + "Z" if outline else ""


def _edge(row: Floats, last: int, step: int, wanted: float) -> float:
    """Column, between cells, at which a row falls below what is wanted beyond its last clear cell."""
    beyond = last + step
    if not 0 <= beyond < len(row):
        return float(last)
    return float(last + step * (row[last] - wanted) / (row[last] - row[beyond]))


def _smooth(places: list[float], columns: int) -> Floats:
    """Takes the steps of the cells out of an outline; what lies on the frame's edge stays there."""
    x = np.array(places)
    for _ in range(SMOOTHED):
        inner = (x[1:-1] > 0) & (x[1:-1] < columns - 1)
        x[1:-1] = np.where(inner, (x[:-2] + 2 * x[1:-1] + x[2:]) / 4, x[1:-1])
    return x


def _crop(diagram: CornerDiagram, width: float, height: float) -> str:
    if diagram.crop is None:
        return ""
    shown = oriented(diagram.crop, diagram.orientation, *diagram.size_px)
    across, down = diagram.size_px[::-1] if diagram.orientation >= 5 else diagram.size_px
    x, wide = (tenth(width * part / across) for part in (shown.left_px, shown.width_px))
    y, high = (tenth(height * part / down) for part in (shown.top_px, shown.height_px))
    return f"M{x} {y}h{wide}v{high}H{x}Z"
