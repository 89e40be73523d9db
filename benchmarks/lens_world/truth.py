"""What openings and glass in front of a traced lens let pass: every ray is followed from the lens outwards.

Axes: x right, y up, seen from behind the camera; z counts forward from the front edge of the filter thread.
Glass is refracted at both faces by the law of sines, as vectors; nothing here knows the closed form.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from benchmarks.lens_world.lenses import Floats, TracedLens

BLACK = 1e-6


class Tilt(NamedTuple):
    """A turn about an axis across the lens: `degrees`, leaning forward on the side `towards_deg` (x to y)."""

    degrees: float = 0.0
    towards_deg: float = 0.0


STRAIGHT = Tilt()


@dataclass(frozen=True)
class Hole:
    """A round opening."""

    radius_mm: float
    z_mm: float
    x_mm: float = 0.0
    y_mm: float = 0.0
    tilt: Tilt = STRAIGHT

    def passes(self, x: Floats, y: Floats) -> np.ndarray:
        """Whether rays through x, y of its own plane go through it."""
        return np.asarray(x * x + y * y <= self.radius_mm**2)


@dataclass(frozen=True)
class Frame:
    """A rectangular opening; its width lies `turned_deg` from the x axis towards the y axis."""

    width_mm: float
    height_mm: float
    z_mm: float
    turned_deg: float = 0.0
    x_mm: float = 0.0
    y_mm: float = 0.0
    tilt: Tilt = STRAIGHT

    def passes(self, x: Floats, y: Floats) -> np.ndarray:
        """Whether rays through x, y of its own plane go through it."""
        turn = np.radians(self.turned_deg)
        along, across = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
        return np.asarray((np.abs(along) <= self.width_mm / 2) & (np.abs(across) <= self.height_mm / 2))


@dataclass(frozen=True)
class Plate:
    """Plane glass; `z_mm` is the middle of its back face."""

    thickness_mm: float
    z_mm: float
    index: float = 1.52
    x_mm: float = 0.0
    y_mm: float = 0.0
    tilt: Tilt = STRAIGHT


Part = Hole | Frame | Plate


def share(
    lens: TracedLens,
    theta_deg: float,
    f_number: float,
    parts: Sequence[Part],
    phi_deg: float = 0.0,
    tilt: Tilt = STRAIGHT,
) -> float:
    """Share of the light of one field angle, in direction phi, that passes all parts; `tilt` is the rig's."""
    out, across, weights = lens.footprint(theta_deg, f_number)
    theta, phi = np.radians(theta_deg), np.radians(phi_deg)
    place = np.stack([out * np.cos(phi) - across * np.sin(phi), out * np.sin(phi) + across * np.cos(phi)])
    place = np.concatenate([place, np.zeros((1, place.shape[1]))])
    way = np.array([np.sin(theta) * np.cos(phi), np.sin(theta) * np.sin(phi), np.cos(theta)])
    return float(weights @ follow(place, way, parts, tilt))


def follow(place: Floats, way: Floats, parts: Sequence[Part], tilt: Tilt = STRAIGHT) -> np.ndarray:
    """Which of parallel rays, each through a `place` (3, rays) and going `way` (3,), pass all parts."""
    turned = _turn(tilt)
    place, way = turned.T @ place, turned.T @ way
    through = np.ones(place.shape[1], dtype=bool)
    for part in sorted(parts, key=lambda one: one.z_mm):
        own = _turn(part.tilt)
        local, along = own.T @ (place - _centre(part)), own.T @ way
        local = local - along[:, None] * (local[2] / along[2])
        if isinstance(part, Plate):
            local, along = _through(part, local, along)
            place, way = own @ local + _centre(part), own @ along
        else:
            through &= part.passes(local[0], local[1])
    return through


def _through(plate: Plate, place: Floats, way: Floats) -> tuple[Floats, Floats]:
    """Rays on the back face followed to the front face and out of it."""
    inside = _bend(way, 1 / plate.index)
    place = place + inside[:, None] * (plate.thickness_mm / inside[2])
    return place, _bend(inside, plate.index)


def _bend(way: Floats, ratio: float) -> Floats:
    """Refraction at a face across z; `ratio` is the index left behind by the index entered."""
    across = ratio * way[:2]
    return np.append(across, np.sqrt(1 - across @ across))


def _turn(tilt: Tilt) -> Floats:
    """Rotation matrix: the side `towards_deg` moves forward."""
    a, b = np.radians(tilt.degrees), np.radians(tilt.towards_deg)
    about = np.array([[np.cos(b), -np.sin(b), 0], [np.sin(b), np.cos(b), 0], [0, 0, 1]])
    lean = np.array([[np.cos(a), 0, -np.sin(a)], [0, 1, 0], [np.sin(a), 0, np.cos(a)]])
    return np.asarray(about @ lean @ about.T)


def _centre(part: Part) -> Floats:
    return np.array([[part.x_mm], [part.y_mm], [part.z_mm]])


def onset_deg(
    lens: TracedLens,
    f_number: float,
    parts: Sequence[Part],
    level: float,
    phi_deg: float = 0.0,
    tilt: Tilt = STRAIGHT,
) -> float:
    """Field angle from which no more than `level` passes, going out from the axis; 90 where it never is."""
    last = float(lens.angles_deg[-1]) - 1.5
    for low in np.arange(0.0, last, 1.0):
        high = min(low + 1.0, last)
        if share(lens, high, f_number, parts, phi_deg, tilt) <= level:
            break
    else:
        return 90.0
    for _ in range(9):
        middle = (low + high) / 2
        if share(lens, middle, f_number, parts, phi_deg, tilt) <= level:
            high = middle
        else:
            low = middle
    return float(high)


def shares(
    lens: TracedLens,
    theta_deg: Floats,
    phi_deg: Floats,
    f_number: float,
    parts: Sequence[Part],
    tilt: Tilt = STRAIGHT,
) -> Floats:
    """`share` on a grid of directions and angles, (phi, theta); inside of any cut none is followed."""
    grid = np.ones((len(phi_deg), len(theta_deg)))
    for row, phi in enumerate(phi_deg):
        for column in range(len(theta_deg) - 1, -1, -1):
            if column + 2 < len(theta_deg) and np.all(grid[row, column + 1 : column + 3] >= 1 - BLACK):
                break
            grid[row, column] = share(lens, float(theta_deg[column]), f_number, parts, float(phi), tilt)
    return grid
