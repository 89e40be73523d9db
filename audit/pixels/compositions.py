"""Which pictures are compositions of their own: near-identical frames of one subject count once.

Two pictures are one composition if they look alike where they stand, or once one of them is moved by up to a
fifth of the picture: hand-held frames of one subject never stand still.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audit.optics.arrays import Floats
from audit.optics.response import BRIGHTEST, DARKEST, light_stops
from audit.pixels.sketch import Codes

FINGERPRINT = (9, 12)
INNER = 0.8
"""Part of the width and height that a composition is told by: dark corners must not make pictures alike."""
ALIKE = 0.8
"""Correlation from which two pictures are one composition. Painted scenes: the same at another hour, exposure
and with a shift of 1 %: 0.94 at least; another one of the same kind: 0.65 at most."""
FLAT_STOPS = 0.02
"""A picture with less structure is no composition of its own."""
OUTLINE = (18, 24)
REACH = (4, 5)
"""Cells of the outline by which one picture is moved over another, down and to the right."""
ALIKE_MOVED = 0.75
"""The same correlation at the best place within reach. Windows of one photograph up to a tenth apart, a
degree turned and 3 % larger reach it in 95 % of 93 photographs (a fifth apart: in 90 to 95 %); two different
photographs of 93 in 1 to 2 % of pairs, most of them of one street or one field."""
RECENT = 24
"""Frames before that a frame is held against in this way: near-identical ones are taken one after another."""


@dataclass(frozen=True, eq=False)
class Outline:
    """What a composition is told by: its fingerprint, and a finer map in stops that can be moved."""

    fingerprint: Floats
    light: NDArray[np.float32]


def outline_of(grey: Codes) -> Outline:
    """The outline of a small picture (luma codes)."""
    return Outline(fingerprint(grey), _grid(grey, OUTLINE).astype(np.float32))


def fingerprint(grey: Codes) -> Floats:
    """What tells a composition from others, whatever its exposure: (108,), of length 1.

    Means of a coarse grid of the inner field in stops, less the mean of each row, so that a horizon alone
    does not make two pictures alike; the product of two is their likeness. All zeros for a
    picture without structure.
    """
    light = _grid(grey, FINGERPRINT)
    light = light - light.mean(axis=1, keepdims=True)
    if light.std() < FLAT_STOPS:
        return np.zeros(light.size)
    return np.asarray(light.ravel() / np.linalg.norm(light))


def distinct(outlines: Sequence[Outline]) -> list[int]:
    """Indices of the compositions, each counted the first time it appears; flat pictures are left out.

    In the order in which they were taken: what goes on from one of the frames before is no new composition.
    """
    kept: list[int] = []
    known = np.zeros((len(outlines), outlines[0].fingerprint.size if outlines else 0))
    recent = _Recent()
    for index, one in enumerate(outlines):
        if not one.fingerprint.any():
            continue
        parts = _parts(one.light)
        again = (known[: len(kept)] @ one.fingerprint >= ALIKE).any()
        if not again and not recent.likeness(parts) >= ALIKE_MOVED:
            known[len(kept)] = one.fingerprint
            kept.append(index)
        recent.add(parts)
    return kept


def likeness(a: Outline, b: Outline) -> float:
    """Correlation of two pictures at the best place within reach, -1 to 1."""
    recent = _Recent()
    recent.add(_parts(a.light))
    return recent.likeness(_parts(b.light))


def _parts(light: NDArray[np.float32]) -> list[Floats]:
    """What is left of a map moved to the left, and to the right, by 0, 1 ... columns; rows of mean 0."""
    columns = light.shape[1]
    cut = [light[:, by:] for by in range(REACH[1] + 1)]
    cut += [light[:, : columns - by] for by in range(REACH[1] + 1)]
    return [np.asarray(part - part.mean(axis=1, keepdims=True)) for part in cut]


def _rows_met() -> Floats:
    """Which pairs of rows meet when one map is moved down by each number of rows, (row, row, moves)."""
    row = np.arange(OUTLINE[0])
    return np.stack([row[:, None] - row == by for by in range(-REACH[0], REACH[0] + 1)], axis=-1).astype(
        float
    )


class _Recent:
    """The last frames, to hold another one against all of them at once."""

    def __init__(self) -> None:
        self._parts = [np.zeros((RECENT, *part.shape)) for part in _parts(np.zeros(OUTLINE, np.float32))]
        self._count = 0
        self._met = _rows_met()

    def add(self, parts: list[Floats]) -> None:
        """Takes a frame in; the oldest goes."""
        for all_of_them, part in zip(self._parts, parts, strict=True):
            all_of_them[self._count % RECENT] = part
        self._count += 1

    def likeness(self, parts: list[Floats]) -> float:
        """The best correlation of a frame with any of them; -1 where there are none."""
        half, best = len(parts) // 2, -1.0
        pairs = self._met.reshape(-1, self._met.shape[-1])
        met, theirs_met = self._met.any(axis=1).astype(float), self._met.any(axis=0).astype(float)
        for here, there in zip(parts, self._parts[half:] + self._parts[:half], strict=True):
            there = there[: min(self._count, RECENT)]
            common = (here @ there.transpose(0, 2, 1)).reshape(len(there), len(pairs)) @ pairs
            size = (np.square(here).sum(axis=1) @ met) * (np.square(there).sum(axis=2) @ theirs_met)
            best = max(best, float(np.max(common / np.sqrt(np.maximum(size, 1e-12)), initial=-1.0)))
        return best


def _grid(grey: Codes, shape: tuple[int, int]) -> Floats:
    """Means of a coarse grid of the inner field, in stops."""
    rows, columns = (round(n * (1 - INNER) / 2) for n in grey.shape)
    light = light_stops(np.clip(grey, DARKEST, BRIGHTEST))
    light = light[rows : light.shape[0] - rows, columns : light.shape[1] - columns]
    for axis, count in enumerate(shape):
        if light.shape[axis] < count:
            light = np.repeat(light, count, axis=axis)
        starts = np.linspace(0, light.shape[axis], count, endpoint=False).astype(int)
        sizes = np.diff(np.append(starts, light.shape[axis]))
        sums = np.add.reduceat(light, starts, axis=axis)
        light = sums / (sizes[:, None] if axis == 0 else sizes)
    return np.asarray(light)
