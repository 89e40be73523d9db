"""Which light enters a lens and forms a point: the footprint of each bundle, traced once and kept in a file.

A footprint is the outline, in the plane of the front vertex, of the parallel light of one field angle that
passes the stop and the rims. It is kept as the place of the ray through the stop's middle and the outline's
distance from it in 17 directions of half a turn; the other half is its mirror image.

Rims where the patent lists none: the first and the last surface let pass what an aperture 1.5 to 2.5 stops
below the widest needs 2 degrees beyond the corner of 36x24 (by lot for each lens), and the widest beam on the
axis. That real lenses lose their mechanical vignetting about two stops down is common practice, no source.
"""

from __future__ import annotations

import zlib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.lens_world.trace import Floats, Lens, prescriptions

FILE = Path(__file__).with_name("footprints.npz")
F_NUMBERS = (2.8, 4.0, 5.6, 8.0, 11.0, 16.0)
SLOWEST_LENS = {"JP 2023-044106": 4.0, "US 3,512,874": 4.0, "US 2,645,974": 4.0}
"""Widest aperture of the lenses that do not open to f/2.8."""
HALF_DIAGONAL_MM = float(np.hypot(36, 24)) / 2
STEP_DEG, BEYOND_DEG = 1.5, 5.0
DIRECTIONS = np.linspace(0, np.pi, 17)
UNIT_MM = 0.0005
"""Outlines are kept as whole multiples of this."""


def lot(name: str) -> np.random.Generator:
    """The lots of one lens: all its focal lengths share them."""
    return np.random.default_rng(zlib.crc32(name.split(", ")[0].encode()))


def widest(name: str) -> float:
    """Smallest f-number of a lens."""
    return next((f for start, f in SLOWEST_LENS.items() if name.startswith(start)), F_NUMBERS[0])


def make() -> None:
    """Traces every lens and writes the file."""
    kept: dict[str, Any] = {}
    for name, lens in prescriptions().items():
        corner = corner_deg(lens)
        lens = with_rims(lens, corner)
        angles = np.arange(0.0, corner + BEYOND_DEG + STEP_DEG, STEP_DEG)
        middles = middle(lens, angles)
        sound = int(np.argmin(np.isfinite(middles))) if np.isnan(middles).any() else len(angles)
        angles, middles = angles[:sound], middles[:sound]
        f_numbers = [f for f in F_NUMBERS if f >= widest(name)]
        lines = np.array([outline(lens, f, angles, middles) for f in f_numbers])
        focal, _, pupil = lens.paraxial()
        kept[f"{name}|optics"] = np.array([focal, pupil, corner])
        kept[f"{name}|middles"] = middles
        kept[f"{name}|heights"] = height(lens, angles, middles)
        kept[f"{name}|outlines"] = np.round(lines / UNIT_MM).astype(np.uint16)
        print(f"{name}: {len(angles)} angles, corner at {corner:.1f} degrees")
    np.savez_compressed(FILE, **kept)


def middle(lens: Lens, theta_deg: Floats) -> Floats:
    """Where the ray through the stop's middle crosses the front vertex's plane; NaN where there is none."""
    tangent = np.tan(np.radians(theta_deg))
    low = lens.paraxial()[2] * tangent - 2.0
    high = low + 4.0 + 9.0 * tangent**2
    rows = np.arange(len(theta_deg))
    for _ in range(6):
        x = low + (high - low) * np.linspace(0, 1, 101)[:, None]
        off = np.nan_to_num(lens.follow(x, np.zeros_like(x), theta_deg)[0], nan=np.inf)
        at = np.argmin(off, axis=0)
        best, least, wide = x[at, rows], off[at, rows], (high - low) / 25
        low, high = best - wide, best + wide
    return np.where(least < 1e-3, best, np.nan)


def height(lens: Lens, theta_deg: Floats, at: Floats) -> Floats:
    """Height in the picture of those rays."""
    if lens.straightened:
        return np.where(np.isnan(at), np.nan, lens.paraxial()[0] * np.tan(np.radians(theta_deg)))
    return -lens.follow(at, np.zeros_like(at), theta_deg)[2]


def corner_deg(lens: Lens) -> float:
    """Field angle of the corner of 36x24."""
    low, high = 10.0, 75.0
    while high - low > 1e-3:
        angle = np.linspace(low, high, 14)
        inside = height(lens, angle, middle(lens, angle)) < HALF_DIAGONAL_MM
        last = int(np.argmin(inside)) - 1
        low, high = float(angle[last]), float(angle[last + 1])
    return low


def stop_radius(lens: Lens, f_number: float) -> float:
    """The stop that lets a beam of focal length / f-number in on the axis."""
    edge = np.array([lens.paraxial()[0] / (2 * f_number)])
    return float(lens.follow(edge, np.zeros(1), 0.0)[0][0])


def outline(lens: Lens, f_number: float, theta_deg: Floats, at: Floats) -> Floats:
    """Distance of the footprints' edges from the middle rays, (angles, DIRECTIONS)."""
    stop, beam = stop_radius(lens, f_number), lens.paraxial()[0] / (2 * f_number)
    steps = np.linspace(0.06, 12.0, 200) * beam
    tried = np.broadcast_to(steps[:, None, None], (len(steps), len(theta_deg), len(DIRECTIONS)))
    passes = _passes(lens, stop, theta_deg, at, tried)
    passes[-1] = False
    first = np.argmin(passes, axis=0)
    low, high = np.concatenate([[0.0], steps])[first], steps[first]
    for _ in range(16):
        far = (low + high) / 2
        inside = _passes(lens, stop, theta_deg, at, far)
        low, high = np.where(inside, far, low), np.where(inside, high, far)
    return low


def _passes(lens: Lens, stop: float, theta_deg: Floats, at: Floats, far: Floats) -> np.ndarray:
    x, y = at[:, None] + far * np.cos(DIRECTIONS), far * np.sin(DIRECTIONS)
    off, room, _ = lens.follow(x, y, theta_deg[:, None])
    return (off <= stop) & (room >= 0)


def with_rims(lens: Lens, corner: float) -> Lens:
    """The lens with assumed rims where the patent lists none."""
    if lens.rims == "patent":
        return lens
    stops = lot(lens.name).uniform(1.5, 2.5)
    parts, last = list(lens.surfaces), len(lens.surfaces) - 1
    needs = {0: 0.0, last: 0.0}
    for theta, f_number in ((corner + 2.0, widest(lens.name) * 2 ** (stops / 2)), (0.0, widest(lens.name))):
        angle = np.array([theta])
        at = middle(lens, angle)
        far = outline(lens, f_number, angle, at)[0]
        x, y = at + far * np.cos(DIRECTIONS), far * np.sin(DIRECTIONS)
        needs = {number: max(need, _needs(lens, number, x, y, theta)) for number, need in needs.items()}
    for number, need in needs.items():
        parts[number] = replace(parts[number], clear_mm=need)
    return replace(lens, surfaces=tuple(parts))


def _needs(lens: Lens, number: int, x: Floats, y: Floats, theta_deg: float) -> float:
    """How far from the axis rays meet a surface, at most: the rim tried that just stops none."""
    tried = tuple(replace(s, clear_mm=1000.0 if n == number else np.inf) for n, s in enumerate(lens.surfaces))
    return 1000.0 - float(np.min(replace(lens, surfaces=tried).follow(x, y, theta_deg)[1]))
