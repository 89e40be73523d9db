"""A rig from the side, cut through its middle and to scale: what sits before the lens, in its order.

Geometry only, in px, rounded, so that the same rig gives the same drawing. The lens is at the left, its
filter thread at x = 0; a plate is drawn where its slot is, its height is that of the holder.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from audit.declare.rig import Rig
from audit.kit.kit import Filter, Kit
from audit.message.text import say
from audit.report.coordinates import tenth

PX_A_MM = 1.5
"""Scale of the drawing."""
LENS_MM, WALL_MM = 14.0, 5.0
"""How much of the lens is drawn, and how thick the wall of a part without an outer size is drawn."""
PLATE_MM = 100.0
"""Height of a plate in a slot."""
GLASS_MM = 1.6
"""How thick a plate is drawn: thinner ones would not be seen."""
ROOM = 6.0
"""Around the drawing, px."""


@dataclass(frozen=True)
class RigSide:
    """The drawing; `solid` is the metal cut through, `clear` glass, `dark` glass that takes light."""

    width: str
    height: str
    title: str
    lens: str
    solid: str
    clear: str
    dark: str


Box = tuple[float, float, float, float]
"""Left, top, right, bottom: mm from the thread, mm above and below the axis."""


def rig_side(rig: Rig, kit: Kit) -> RigSide | None:
    """The drawing of one rig, None where nothing sits before the lens or nobody knows what does."""
    if not rig.openings:
        return None
    solid, plates = list(_metal(rig)), list(_plates(rig, kit))
    boxes = [*solid, *(box for box, _ in plates)]
    front = max(right for _, _, right, _ in boxes)
    half = max(bottom for _, _, _, bottom in boxes)
    thread = rig.thread_mm or rig.openings[0].diameter_mm
    lens = [(-LENS_MM, -thread / 2 - 2, 0.0, thread / 2 + 2)]
    to = _Paper(LENS_MM, half)
    return RigSide(
        width=tenth((front + LENS_MM) * PX_A_MM + 2 * ROOM),
        height=tenth(2 * half * PX_A_MM + 2 * ROOM),
        title=say("Seen from the side: {parts}", parts=rig.words),
        lens=to.path(lens),
        solid=to.path(solid),
        clear=to.path(box for box, dark in plates if not dark),
        dark=to.path(box for box, dark in plates if dark),
    )


@dataclass(frozen=True)
class _Paper:
    """Turns mm into px of the drawing."""

    left_mm: float
    half_mm: float

    def path(self, boxes: Iterator[Box] | Sequence[Box]) -> str:
        return "".join(self._box(*box) for box in boxes)

    def _box(self, left: float, top: float, right: float, bottom: float) -> str:
        x, y = ((v + off) * PX_A_MM + ROOM for v, off in ((left, self.left_mm), (top, self.half_mm)))
        wide, tall = tenth((right - left) * PX_A_MM), tenth((bottom - top) * PX_A_MM)
        return f"M{tenth(x)} {tenth(y)}h{wide}v{tall}h-{wide}z"


def _metal(rig: Rig) -> Iterator[Box]:
    """Each part above and below its opening, from the part behind it to its own front edge."""
    behind = 0.0
    for opening in rig.openings:
        near = opening.diameter_mm / 2
        yield from _pair(min(behind, opening.distance_mm - 1.0), opening.distance_mm, near)
        behind = opening.distance_mm
    for rails in rig.rails:
        base = max((o.distance_mm for o in rig.openings if o.distance_mm < rails.distance_mm), default=0.0)
        yield from _pair(base, rails.distance_mm, PLATE_MM / 2)


def _pair(back: float, front: float, near: float) -> Iterator[Box]:
    yield back, -near - WALL_MM, front, -near
    yield back, near, front, near + WALL_MM


def _plates(rig: Rig, kit: Kit) -> Iterator[tuple[Box, bool]]:
    """Where each plate stands, and whether that part of it takes light: a grad does in its upper half."""
    held = ((rig.holder, rig.slots), (rig.second_holder, rig.second_slots))
    for rails, (name, slots) in zip(rig.rails, [h for h in held if h[0]], strict=False):
        holder = kit.holder(name)
        base = max((o.distance_mm for o in rig.openings if o.distance_mm < rails.distance_mm), default=0.0)
        count = max(holder.slots if holder is not None else 1, len(slots), 1)
        pitch = (rails.distance_mm - base) / count
        for n, slot in enumerate(slots):
            part = kit.filter(slot) if slot else None
            if part is not None:
                yield from _plate(part, base + (n + 0.5) * pitch, PLATE_MM / 2, rails.turned_deg)
    front = kit.filter(rig.front) if rig.front else None
    if front is not None:
        last = rig.openings[-1]
        yield from _plate(front, last.distance_mm - 2 * GLASS_MM, last.diameter_mm / 2, 0.0)


def _plate(part: Filter, at: float, half: float, turned_deg: float) -> Iterator[tuple[Box, bool]]:
    left, right = at - GLASS_MM / 2, at + GLASS_MM / 2
    if part.is_grad:
        upside_down = math.cos(math.radians(turned_deg)) < 0
        yield (left, -half, right, 0.0), not upside_down
        yield (left, 0.0, right, half), upside_down
    else:
        yield (left, -half, right, half), part.loss_stops[1] > 0
