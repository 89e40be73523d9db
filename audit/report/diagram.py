"""The corner verdict as a small drawing of the frame, with the cut to scale, as records for an inline SVG.

Behind a circular opening the loss depends on the field angle alone, so a contour of equal loss is a
circle of radius f tan(angle) around the middle of the picture.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

LONG_SIDE = 150.0
"""Length of the frame's long side in the drawing's own units; hatches keep one size on every sensor."""


@dataclass(frozen=True)
class CornerDiagram:
    """What one drawing shows; equal records share one drawing.

    `width_mm`, `height_mm`: sensor area used, as the picture is held. Radii in mm in the image plane, at
    the (shallow, deep) end of the band of the entrance pupil's depth; inf where the loss is not
    reached. `half_stop_radius_mm`: loss of half a stop; `black_radius_mm`: no light at all.
    """

    width_mm: float
    height_mm: float
    half_stop_radius_mm: tuple[float, float]
    black_radius_mm: tuple[float, float]
    verdict: str
    title: str

    def turned(self) -> CornerDiagram:
        """The same frame held upright."""
        return CornerDiagram(
            self.height_mm,
            self.width_mm,
            self.half_stop_radius_mm,
            self.black_radius_mm,
            self.verdict,
            self.title,
        )


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
    cross: str
    title: str
    description: str


def drawings(diagrams: Iterable[CornerDiagram]) -> dict[CornerDiagram, Drawing]:
    """One drawing for each distinct diagram, named c1, c2 ... in order of first use."""
    distinct = dict.fromkeys(diagrams)
    return {diagram: draw(diagram, f"c{n}") for n, diagram in enumerate(distinct, start=1)}


def draw(diagram: CornerDiagram, name: str) -> Drawing:
    """The drawing of one diagram. Raises ValueError for a frame without area."""
    if not (diagram.width_mm > 0 and diagram.height_mm > 0):
        raise ValueError(f"frame of {diagram.width_mm} x {diagram.height_mm} mm cannot be drawn")
    scale = LONG_SIDE / max(diagram.width_mm, diagram.height_mm)
    width, height = diagram.width_mm * scale, diagram.height_mm * scale
    half, black = (
        [r * scale for r in pair] for pair in (diagram.half_stop_radius_mm, diagram.black_radius_mm)
    )
    return Drawing(
        id=name,
        width=_n(width),
        height=_n(height),
        maybe_half=_outside(width, height, min(half)),
        sure_half=_outside(width, height, max(half)),
        maybe_black=_circle(width, height, min(black)),
        sure_black=_outside(width, height, max(black)),
        cross=f"M{_n(width / 2 - 3)} {_n(height / 2)}h6M{_n(width / 2)} {_n(height / 2 - 3)}v6",
        title=diagram.title,
        description=describe(diagram),
    )


def describe(diagram: CornerDiagram) -> str:
    """What the drawing shows, for those who cannot see it."""
    corner = math.hypot(diagram.width_mm, diagram.height_mm) / 2
    frame = f"Frame of {diagram.width_mm:.1f} by {diagram.height_mm:.1f} mm, corner at {corner:.1f} mm."
    half = _reach("half a stop is lost", diagram.half_stop_radius_mm, corner)
    return f"{frame} {half} {_reach('no light arrives', diagram.black_radius_mm, corner)}"


def _reach(what: str, radii: tuple[float, float], corner: float) -> str:
    low, high = min(radii), max(radii)
    if low >= corner:
        return f"Nowhere in the frame is it predicted that {what}."
    if high >= corner:
        return f"It may be that {what} from {low:.1f} mm outwards."
    return f"It is predicted that {what} from {high:.1f} mm outwards, perhaps from {low:.1f} mm."


def _outside(width: float, height: float, radius: float) -> str:
    """Path of the frame with the circle taken out (even-odd); "" where the circle covers the frame."""
    if not radius < math.hypot(width, height) / 2:
        return ""
    return f"M0 0H{_n(width)}V{_n(height)}H0Z{_circle(width, height, radius)}"


def _circle(width: float, height: float, radius: float) -> str:
    if not radius < math.hypot(width, height) / 2:
        return ""
    r = max(radius, 0.0)
    half_turn = f"a{_n(r)} {_n(r)} 0 1 0 {{}} 0"
    turn = half_turn.format(_n(2 * r)) + half_turn.format(_n(-2 * r))
    return f"M{_n(width / 2 - r)} {_n(height / 2)}{turn}Z"


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
