"""The traced lenses as the bench uses them, and which half each belongs to."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray

from benchmarks.lens_world.footprints import DIRECTIONS, F_NUMBERS, FILE, STEP_DEG, UNIT_MM, lot, widest

Floats = NDArray[np.float64]
TUNE = (
    "US 4,690,517 20 mm",
    "US 3,748,021 24 mm",
    "US 2,645,974 28 mm",
    "US 5,528,428 29 mm",
    "JP S57-64716 14 mm",
    "JP 2023-044106 Ex. 5, 18.1 mm",
    "JP 2023-044106 Ex. 5, 25.2 mm",
)
UNSEEN = (
    "US 3,512,874 21 mm",
    "US 3,006,249 35 mm",
    "US 5,917,663 28 mm",
    "US 4,163,603 24 mm",
    "JP 2022-030896 24.7 mm",
    "US 2020/0257181 Ex. 1, 16.4 mm",
    "US 2020/0257181 Ex. 1, 25.4 mm",
    "JP 2001-083421 Ex. 1, 17.5 mm",
    "JP 2001-083421 Ex. 1, 24 mm",
)
HALVES = {"tune": TUNE, "unseen": UNSEEN}
FIRST_SEED = {"tune": 0, "unseen": 1_000_000}
AROUND, RINGS = 72, 32
"""Rays of a footprint: directions times rings of equal area."""


@dataclass(frozen=True)
class TracedLens:
    """One lens at one focal length. Depths count from the front edge of the filter thread."""

    name: str
    focal_mm: float
    gap_mm: float
    vertex_depth_mm: float
    corner_deg: float
    middles_mm: Floats
    heights_mm: Floats
    outlines_mm: Floats

    @property
    def depth_mm(self) -> float:
        """Paraxial entrance pupil behind the thread's front edge."""
        return self.gap_mm + self.vertex_depth_mm

    @property
    def angles_deg(self) -> Floats:
        """Field angles that were traced."""
        return np.asarray(np.arange(len(self.middles_mm)) * STEP_DEG, dtype=np.float64)

    @property
    def f_numbers(self) -> tuple[float, ...]:
        """Those that were traced."""
        return tuple(f for f in F_NUMBERS if f >= widest(self.name))

    @cached_property
    def shifts_mm(self) -> Floats:
        """How far deeper than on the axis the middle ray crosses it, by field angle."""
        tangents = np.tan(np.radians(self.angles_deg))
        tangents[0] = np.inf
        return np.asarray(np.where(self.angles_deg > 0, self.middles_mm / tangents - self.vertex_depth_mm, 0))

    @cached_property
    def drift_mm(self) -> float:
        """a of depth + a tan^2 that comes nearest between 0.6 of the corner's tangent and the corner."""
        tangents = np.tan(np.radians(self.angles_deg))
        corner = np.tan(np.radians(self.corner_deg))
        used = (tangents >= 0.6 * corner) & (tangents <= corner)
        square = tangents[used] ** 2
        return float((square @ self.shifts_mm[used]) / (square @ square))

    def height_mm(self, theta_deg: Floats) -> Floats:
        """Height in the picture."""
        return np.asarray(_between(theta_deg, self.angles_deg, self.heights_mm))

    def theta_deg(self, height_mm: Floats) -> Floats:
        """Field angle of a height in the picture."""
        fine = np.linspace(0, self.angles_deg[-1], 4 * len(self.angles_deg))
        return np.asarray(np.interp(height_mm, self.height_mm(fine), fine))

    def footprint(self, theta_deg: float, f_number: float) -> tuple[Floats, Floats, Floats]:
        """Rays in the plane of the thread's front edge: x away from the axis, y across, and their weights."""
        at, theta = theta_deg / STEP_DEG, np.radians(theta_deg)
        low = min(int(at), len(self.middles_mm) - 2)
        share = at - low
        lines = self.outlines_mm[self.f_numbers.index(f_number)]
        half = (1 - share) * lines[low] + share * lines[low + 1]
        shift = (1 - share) * self.shifts_mm[low] + share * self.shifts_mm[low + 1]
        angle = (np.arange(AROUND) + 0.5) * (2 * np.pi / AROUND)
        radius = _around(half, np.minimum(angle, 2 * np.pi - angle))
        rings = np.sqrt((np.arange(RINGS) + 0.5) / RINGS)
        x = (self.depth_mm + shift) * np.tan(theta) + np.outer(rings, radius * np.cos(angle))
        y = np.outer(rings, radius * np.sin(angle))
        weights = np.tile(radius**2, RINGS)
        return x.ravel(), y.ravel(), weights / weights.sum()

    def light(self, theta_deg: Floats, f_number: float) -> Floats:
        """Light in the picture with nothing in front, 1 on the axis: natural falloff and the rims' together.

        A footprint of area A in the vertex's plane takes in A cos(theta) from each solid angle, which spreads
        over the picture as the heights say.
        """
        lines = self.outlines_mm[self.f_numbers.index(f_number)]
        area = 0.5 * np.trapezoid(lines**2, DIRECTIONS, axis=1)
        angle = np.radians(self.angles_deg[1:])
        spread = self.heights_mm[1:] * np.gradient(self.heights_mm, np.radians(self.angles_deg))[1:]
        light = area[1:] * np.cos(angle) * np.sin(angle) / spread
        fine = np.concatenate([[light[0]], light]) / light[0]
        return np.asarray(np.interp(theta_deg, self.angles_deg, fine))


def _around(line_mm: Floats, angle: Floats) -> Floats:
    """An outline at other angles: a cubic through 1 / radius^2, which is smooth however long an ellipse is.

    Against outlines traced in 64 directions: within 0.2 % of the largest radius at f/8; 2 %, of one lens 5 %,
    where a rim cuts into it; area within 0.6 %.
    """
    value = 1 / np.maximum(line_mm, 1e-3) ** 2
    value = np.concatenate([value[1:2], value, value[-2:-4:-1]])
    at = angle / (DIRECTIONS[1] - DIRECTIONS[0])
    low = np.minimum(at.astype(int), len(line_mm) - 2)
    s = at - low
    a, b, c, d = (value[low + k] for k in range(4))
    cubic = b + 0.5 * s * (c - a + s * (2 * a - 5 * b + 4 * c - d + s * (3 * (b - c) + d - a)))
    return np.asarray(1 / np.sqrt(np.maximum(cubic, value.min() / 2)))


def _between(x: Floats, xs: Floats, ys: Floats) -> Floats:
    """Interpolation by the parabola through the three nearest of evenly spread points."""
    at = (np.asarray(x, dtype=float) - xs[0]) / (xs[1] - xs[0])
    near = np.clip(np.round(at).astype(int), 1, len(xs) - 2)
    off = at - near
    before, here, after = ys[near - 1], ys[near], ys[near + 1]
    return np.asarray(here + off * (after - before) / 2 + off**2 * (after - 2 * here + before) / 2)


@cache
def lenses() -> dict[str, TracedLens]:
    """Every traced lens by its name."""
    made = {}
    with np.load(FILE) as kept:
        for name in (*TUNE, *UNSEEN):
            focal, pupil, corner = kept[f"{name}|optics"]
            made[name] = TracedLens(
                name,
                float(focal),
                round(float(lot(name + "thread").uniform(1.0, 5.0)), 2),
                float(pupil),
                float(corner),
                kept[f"{name}|middles"],
                kept[f"{name}|heights"],
                kept[f"{name}|outlines"] * UNIT_MM,
            )
    return made


def half(which: str) -> list[TracedLens]:
    """The lenses of a half."""
    return [lenses()[name] for name in HALVES[which]]


def listing() -> str:
    """All lenses with what is true of them."""
    lines = []
    for which, names in HALVES.items():
        for lens in map(lenses().__getitem__, names):
            corner = np.array([lens.corner_deg])
            light = [float(lens.light(corner, f)[0]) for f in (lens.f_numbers[0], 8.0)]
            lines.append(
                f"{which:7} {lens.name:32} f {lens.focal_mm:5.2f}, f/{lens.f_numbers[0]:g}; thread "
                f"{lens.gap_mm:.2f} mm before the glass, pupil {lens.depth_mm:5.2f} behind it, drift "
                f"{lens.drift_mm:+.2f}; corner at {lens.corner_deg:.1f} deg, light there "
                f"{light[0]:.2f} wide open, {light[1]:.2f} at f/8"
            )
    return "\n".join(lines)
