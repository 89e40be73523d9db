"""Rings, holders, glass and polarisers as they are, and as a photographer's kit has them.

A system for filters 100 mm wide on threads of 49 to 82 mm. Its dimensions lie around the usual ones (common
practice, no source) with 0.8 mm (diameters, widths) and 0.5 mm (heights), 1 sigma. Half the pieces were
measured by caliper (0.3 and 0.1 mm, 1 sigma), of the others the kit says nothing. Holders sit a little
shifted and tilted.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from benchmarks.lens_world.lenses import TracedLens
from benchmarks.lens_world.setup import CALIPER_MM, HEIGHT_MM
from benchmarks.lens_world.truth import Frame, Hole, Part, Plate, Tilt

THREADS_MM = (49, 52, 55, 58, 62, 67, 72, 77, 82)
ACROSS_MM, ALONG_MM, SHIFT_MM, TILT_DEG, TURN_DEG = 0.8, 0.5, 0.3, 0.3, 1.5
FILTER_MM, FILTER_LONG_MM, GLASS_INDEX, OPEN_MM = 100.0, 150.0, 1.52, 1000.0
USUAL = {"bore": 86.0, "base": 7.0, "clear": 90.0, "pitch": 3.2, "front": 98.0, "front_thickness": 7.5}
RING_HEIGHT_MM = {"standard": 4.0, "recessed": 0.5}


@dataclass
class Worn:
    """A rig: true parts, the kit's tables and the span's keys."""

    words: str
    ring_kind: str
    thread_mm: int
    second: bool
    glass: bool
    parts: list[Part] = field(default_factory=list)
    kit: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    span: dict[str, Any] = field(default_factory=dict)


def thread_for(lens: TracedLens, rng: np.random.Generator) -> int | None:
    """A thread that does not cut that lens, the smallest or one of three after it.

    The real lenses of these patents have threads up to three sizes larger (from memory). None: too large.
    """
    out, across, _ = lens.footprint(lens.corner_deg, 8.0)
    wide = [t for t in THREADS_MM if (t - 2.0) / 2 >= float(np.hypot(out, across).max())]
    return int(wide[min(int(rng.integers(0, 4)), len(wide) - 1)]) if wide else None


def rig(thread_mm: int, rng: np.random.Generator) -> Worn:
    """A rig by lot on a thread."""
    kind = str(rng.choice(["standard", "recessed"]))
    slots = int(rng.integers(1, 4))
    second, front, glass = rng.random() < 0.3, rng.random() < 0.25, rng.random() < 0.5
    made = Worn("", kind, thread_mm, bool(second), bool(glass))
    stack = _Stack(made, rng)
    stack.ring(kind, thread_mm)
    filled = int(rng.integers(1, slots + 1)) if glass else 0
    stack.holder("holder", slots, filled, 0.0, with_front=bool(front and not second))
    if second:
        turn = float(rng.choice([0, 30, 45, 90]))
        stack.holder("second_holder", int(rng.integers(1, 3)), int(glass), turn, with_front=bool(front))
    if front:
        stack.polariser()
    made.words = (
        f"{thread_mm} mm {kind} ring, holder of {slots}"
        + (f", second holder turned {made.span['second_turn_deg']:g}" if second else "")
        + (", polariser in front" if front else "")
        + (", with glass" if glass else ", empty")
    )
    return made


class _Stack:
    """Pieces from the lens outwards; `z` is where the next one sits."""

    def __init__(self, made: Worn, rng: np.random.Generator) -> None:
        self.made, self.rng, self.z = made, rng, 0.0

    def _true(self, usual: float, spread: float) -> float:
        return max(usual + float(self.rng.normal(0, spread)), 0.1)

    def _said(
        self, table: str, entry: dict[str, Any], across: dict[str, float], along: dict[str, float]
    ) -> None:
        """The kit's entry: with dimensions where they were measured."""
        if self.rng.random() < 0.5:
            read = {k: v + self.rng.normal(0, CALIPER_MM) for k, v in across.items()}
            read |= {k: max(v + self.rng.normal(0, HEIGHT_MM), 0.0) for k, v in along.items()}
            entry |= {key: round(float(value), 1) for key, value in read.items()}
        self.made.kit.setdefault(table, []).append(entry)

    def ring(self, kind: str, thread_mm: int) -> None:
        """An adapter ring."""
        bore, height = self._true(thread_mm - 3.0, ACROSS_MM), self._true(RING_HEIGHT_MM[kind], ALONG_MM / 2)
        self.z += height
        self.made.parts.append(Hole(bore / 2, self.z))
        entry = {"id": "ring", "thread_mm": float(thread_mm), "kind": kind}
        self._said("ring", entry, {"bore_mm": bore}, {"height_mm": height})
        self.made.span["ring"] = "ring"

    def holder(self, name: str, slots: int, filled: int, turn_deg: float, *, with_front: bool) -> None:
        """A holder with filters in its rear slots, and the front ring it may carry."""
        bore, clear = self._true(USUAL["bore"], ACROSS_MM), self._true(USUAL["clear"], ACROSS_MM)
        base, pitch = self._true(USUAL["base"], ALONG_MM), self._true(USUAL["pitch"], 0.1)
        x, y = (float(v) for v in self.rng.normal(0, SHIFT_MM, 2))
        tilt = Tilt(abs(float(self.rng.normal(0, TILT_DEG))), float(self.rng.uniform(0, 360)))
        turned = -turn_deg + float(self.rng.normal(0, TURN_DEG if turn_deg % 90 else 0.3))
        self.z += base
        parts: list[Part] = [Hole(bore / 2, self.z, x, y, tilt)]
        names = []
        for slot in range(filled):
            middle, thickness = self.z + (slot + 0.5) * pitch, float(self.rng.choice([2.0, 2.0, 3.0]))
            parts.append(Plate(thickness, middle - thickness / 2, GLASS_INDEX, x, y, tilt))
            parts.append(Frame(FILTER_MM, FILTER_LONG_MM, middle + thickness / 2 + 1e-3, turned, x, y, tilt))
            names.append(f"{name}{slot}")
            sizes = {"width_mm": FILTER_MM, "thickness_mm": thickness}
            entry = {"id": names[-1], "kind": "neutral", "stops": 3.0, **sizes}
            self.made.kit.setdefault("filter", []).append(entry)
        self.z += slots * pitch
        parts.append(Frame(clear, OPEN_MM, self.z, turned, x, y, tilt))
        self.made.parts += parts
        across, along = {"bore_mm": bore, "clear_width_mm": clear}, {"base_mm": base, "slot_pitch_mm": pitch}
        entry = {"id": name, "slots": slots}
        if with_front:
            self.front = self._true(USUAL["front"], ACROSS_MM), self._true(USUAL["front_thickness"], ALONG_MM)
            entry["front_ring_mm"] = round(self.front[0] + float(self.rng.normal(0, CALIPER_MM)), 1)
            along["front_ring_thickness_mm"] = self.front[1]
        self._said("holder", entry, across, along)
        second = name != "holder"
        self.made.span[name] = name
        self.made.span["second_slots" if second else "slots"] = tuple(names)
        self.made.span["second_turn_deg" if second else "turn_deg"] = turn_deg

    def polariser(self) -> None:
        """A round one on the front ring."""
        bore, thickness = self.front
        if self.made.glass:
            self.made.parts.append(Plate(2.0, self.z + thickness / 2))
        self.z += thickness
        self.made.parts.append(Hole(bore / 2, self.z))
        entry = {"id": "pol", "kind": "polariser", "round": True, "thickness_mm": 2.0}
        self.made.kit.setdefault("filter", []).append(entry)
        self.made.span["front"] = "pol"
