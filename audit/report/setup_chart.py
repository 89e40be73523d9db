"""The light of a setup as a small drawing: what each frame implies against the light of its scene.

Geometry only. Frames stand side by side in their order; more light is higher. Every drawing is as high as the
others, so that a style sheet may enlarge them alike; the scale is that of the setup's own light. A frame off
the light is told by its shape. Coordinates leave here as text, rounded, so that the same setup gives the same
drawing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from audit.message.figures import number
from audit.report.coordinates import tenth

LEFT, RIGHT, TOP, AXIS, FOOT = 52, 12, 8, 20, 22
"""Room for the scale, beside and above the drawing, for the numbers and for frames that say nothing, px."""
HEIGHT = 176
"""Height of every drawing, px."""
WIDEST, LEAST_STEP, MOST_STEP = 256, 10, 40
"""Room that the frames share and room for one, px: a long setup grows wider."""
LEAST_STOPS = 3
"""A setup whose light is steadier is not blown up further."""
STEPS, APART = (1, 2, 5, 10, 20, 50), 22
"""Stops between marks of the scale, and the least room between two of them, px."""
CHARACTER, BETWEEN = 7.3, 4.0
"""Width of a figure of 12 px, and the least gap between two numbers, px."""
BOX = 5.0
"""Half the side of the square of a frame off the light, px."""
NARROW = 320
"""A drawing up to this width needs no room to be moved in on any screen, px."""


Tick = tuple[str, str]
"""Where a scale has a mark, and its words."""


@dataclass(frozen=True)
class LightPoint:
    """One frame; `low` and `high` are the light it implies, NaN where it says nothing of it."""

    kind: str
    low: float = math.nan
    high: float = math.nan
    scene: float = math.nan
    residual: float = 0.0
    tolerance: float = 0.0

    @classmethod
    def compared(cls, low: float, high: float, scene: float, residual: float, tolerance: float) -> LightPoint:
        """A frame that can be compared: off where more is left than can be explained."""
        return cls(OFF if abs(residual) > tolerance else FITS, low, high, scene, residual, tolerance)

    @property
    def is_compared(self) -> bool:
        """Whether it was compared with the light of its scene."""
        return self.kind in (FITS, OFF)

    @property
    def off(self) -> bool:
        """Whether it lies off the light of its scene."""
        return self.kind == OFF

    @property
    def band(self) -> tuple[float, float]:
        """Light that fits. The scene's own light may be a range: then the band reaches a frame that fits."""
        half = self.tolerance
        if not self.off:
            half = max(half, self.low - self.scene, self.scene - self.high)
        return self.scene - half, self.scene + half


FITS, OFF, GIVES = "fits", "off", "gives"
"""Kinds of frames whose light is drawn; one that gives the light is what its scene is judged by."""
SILENT = LightPoint("silent")
"""A frame that cannot be compared."""


@dataclass(frozen=True)
class SetupChart:
    """Paths of one drawing in px, "" where there is nothing of a kind; `foot` is where the light ends."""

    width: int
    height: int
    right: int
    foot: int
    band: str
    scene: str
    fits: str
    leads: str
    off: str
    gives: str
    silent: str
    light: tuple[Tick, ...]
    numbers: tuple[Tick, ...]

    @property
    def wide(self) -> bool:
        """Whether a narrow screen cannot hold it."""
        return self.width > NARROW


class _Scale:
    """Places of the frames and of the light on the drawing."""

    def __init__(self, points: Sequence[LightPoint]) -> None:
        values = [v for p in points if p.kind != SILENT.kind for v in (p.low, p.high)]
        values += [v for p in points if p.is_compared for v in p.band]
        self.low, self.high = math.floor(min(values) - 0.3), math.ceil(max(values) + 0.3)
        silent = any(p.kind == SILENT.kind for p in points)
        lacking = max(LEAST_STOPS - (self.high - self.low), 0)
        self.low, self.high = self.low - lacking // 2, self.high + lacking - lacking // 2
        self.foot = HEIGHT - AXIS - (FOOT if silent else 0)
        self.stop = (self.foot - TOP) / (self.high - self.low)
        self.step = min(MOST_STEP, max(LEAST_STEP, WIDEST // len(points)))
        self.right = LEFT + self.step * len(points)

    def x(self, place: int) -> float:
        """Middle of a frame's room."""
        return LEFT + self.step * (place + 0.5)

    def edge(self, place: int) -> int:
        """Left edge of a frame's room."""
        return LEFT + self.step * place

    def y(self, ev100: float) -> float:
        """Height of a light."""
        return TOP + (self.high - ev100) * self.stop


def setup_chart(points: Sequence[LightPoint]) -> SetupChart:
    """The drawing of one setup, of which at least one frame must be compared."""
    scale = _Scale(points)
    silent = [n for n, p in enumerate(points) if p.kind == SILENT.kind]
    step = next((s for s in STEPS if s * scale.stop >= APART), STEPS[-1])
    first = math.ceil(scale.low / step) * step
    return SetupChart(
        width=scale.right + RIGHT,
        height=HEIGHT,
        right=scale.right,
        foot=scale.foot,
        band=_band(points, scale),
        scene=_scene(points, scale),
        fits=_bars(points, FITS, scale),
        leads=_leads(points, scale),
        off=_boxes(points, scale),
        gives=_bars(points, GIVES, scale),
        silent="".join(f"M{tenth(scale.x(n) - 4)} {scale.foot + 7}l8 8m-8 0l8-8" for n in silent),
        light=tuple((tenth(scale.y(v)), number(v)) for v in range(first, scale.high + 1, step)),
        numbers=_numbers(points, scale),
    )


def _runs(points: Sequence[LightPoint]) -> list[list[int]]:
    """Places of compared frames that stand side by side."""
    runs: list[list[int]] = []
    for n in (n for n, p in enumerate(points) if p.is_compared):
        if runs and runs[-1][-1] == n - 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    return runs


def _band(points: Sequence[LightPoint], scale: _Scale) -> str:
    """The light that fits, closed around each run of frames."""
    paths = []
    for run in _runs(points):
        over = [f"V{tenth(scale.y(points[n].band[1]))}H{scale.edge(n + 1)}" for n in run]
        under = [f"V{tenth(scale.y(points[n].band[0]))}H{scale.edge(n)}" for n in reversed(run)]
        start = f"M{scale.edge(run[0])} {tenth(scale.y(points[run[0]].band[0]))}"
        paths.append(start + "".join([*over, *under]) + "Z")
    return "".join(paths)


def _scene(points: Sequence[LightPoint], scale: _Scale) -> str:
    """The light of the scene, from frame to frame."""
    paths = []
    for run in _runs(points):
        steps = "".join(f"V{tenth(scale.y(points[n].scene))}H{scale.edge(n + 1)}" for n in run)
        paths.append(f"M{scale.edge(run[0])} {tenth(scale.y(points[run[0]].scene))}{steps}")
    return "".join(paths)


def _of(points: Sequence[LightPoint], kind: str) -> Iterable[tuple[int, LightPoint]]:
    return ((n, p) for n, p in enumerate(points) if p.kind == kind)


def _bars(points: Sequence[LightPoint], kind: str, scale: _Scale) -> str:
    """Lines from the most to the least light: a round pen makes a dot of one without length."""
    return "".join(
        f"M{tenth(scale.x(n))} {tenth(scale.y(p.high))}V{tenth(scale.y(p.low))}" for n, p in _of(points, kind)
    )


def _boxes(points: Sequence[LightPoint], scale: _Scale) -> str:
    """Hollow squares, drawn out where the light is a range."""
    found = []
    for n, p in _of(points, OFF):
        top, high = scale.y(p.high) - BOX, scale.y(p.low) - scale.y(p.high) + 2 * BOX
        found.append(
            f"M{tenth(scale.x(n) - BOX)} {tenth(top)}h{tenth(2 * BOX)}v{tenth(high)}h{tenth(-2 * BOX)}Z"
        )
    return "".join(found)


def _leads(points: Sequence[LightPoint], scale: _Scale) -> str:
    """From the band to each frame off it."""
    found = []
    for n, p in _of(points, OFF):
        start, end = (p.band[1], p.low) if p.residual > 0 else (p.band[0], p.high)
        found.append(f"M{tenth(scale.x(n))} {tenth(scale.y(start))}V{tenth(scale.y(end))}")
    return "".join(found)


def _numbers(points: Sequence[LightPoint], scale: _Scale) -> tuple[Tick, ...]:
    """Numbers of the frames: those off the light first, then the ends, as far as there is room."""
    wanted = [*(n for n, _ in _of(points, OFF)), 0, len(points) - 1]
    kept: list[int] = []
    for n in wanted:
        if all(abs(scale.x(n) - scale.x(other)) >= _room(n, other) for other in kept):
            kept.append(n)
    return tuple((tenth(scale.x(n)), str(n + 1)) for n in sorted(kept))


def _room(place: int, other: int) -> float:
    """From middle to middle of two frames' numbers that do not touch, px."""
    return CHARACTER * (len(str(place + 1)) + len(str(other + 1))) / 2 + BETWEEN
