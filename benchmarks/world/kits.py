"""What is in the bag: filters whose true strength scatters around the label, bodies, lenses, the kit text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

Rng = np.random.Generator

KITS = ("one", "six-ten", "three-six-ten", "full")
STOPS_PER_DENSITY = 3.321928
POLARISER_LOSS = (1.0, 2.0)
"""Least and most loss of a polariser by its turn: common practice, no source."""


@dataclass(frozen=True)
class Glass:
    """One filter; `label_stops` by the kit, `true_stops` as it is (a grad: where it is dense)."""

    id: str
    kind: str
    label_stops: float
    true_stops: float
    unit: str = "stops"

    @property
    def is_grad(self) -> bool:
        """Whether it darkens part of the picture only."""
        return self.kind.startswith("grad")


@dataclass(frozen=True)
class BagBody:
    """A camera and its manners of writing."""

    name: str
    model: str
    sensor_mm: tuple[float, float]
    pixels: tuple[int, int]
    base_iso: int
    per_stop: int
    writes_bias: bool
    writes_mode: bool
    whole_seconds: bool
    stamps_end: bool
    writes_offset: bool
    has_gps: bool
    loses_time: float
    raw_only: bool
    clock_ahead_s: float


@dataclass(frozen=True)
class BagLens:
    """A zoom lens with a 77 mm thread."""

    id: str
    exif: str
    focal_mm: tuple[int, int]
    widest_f: float


@dataclass(frozen=True)
class Bag:
    """Everything that comes along; `screw_in` says that the only filter is a round one screwed on."""

    kit: str
    glasses: tuple[Glass, ...]
    bodies: tuple[BagBody, ...]
    lenses: tuple[BagLens, ...]
    screw_in: bool
    latitude_deg: float
    longitude_deg: float
    offset_min: int
    tells_place: bool

    @property
    def neutrals(self) -> tuple[Glass, ...]:
        """The neutral filters."""
        return tuple(g for g in self.glasses if g.kind == "neutral")

    @property
    def grads(self) -> tuple[Glass, ...]:
        """The graduated filters."""
        return tuple(g for g in self.glasses if g.is_grad)

    @property
    def polariser(self) -> Glass | None:
        """The polariser, where there is one."""
        return next((g for g in self.glasses if g.kind == "polariser"), None)


LENSES = (
    BagLens("wide", "Aurin 16-35mm F4", (16, 35), 4.0),
    BagLens("mid", "Aurin 24-70mm F2.8", (24, 70), 2.8),
    BagLens("long", "Aurin 70-200mm F4", (70, 200), 4.0),
)


def draw_bag(rng: Rng, kit: str, two_bodies: bool) -> Bag:
    """A bag with that kit; the rest is drawn."""
    longitude = float(rng.uniform(-120, 150))
    bodies = [_body(rng, "A")]
    if two_bodies:
        bodies.append(_body(rng, "B"))
    return Bag(
        kit=kit,
        glasses=tuple(_glasses(rng, kit)),
        bodies=tuple(bodies),
        lenses=LENSES,
        screw_in=kit == "one" and rng.random() < 0.5,
        latitude_deg=float(rng.uniform(35, 63) * (1 if rng.random() < 0.75 else -0.7)),
        longitude_deg=longitude,
        offset_min=round(longitude / 15 + rng.uniform(0, 1.2)) * 60,
        tells_place=bool(rng.random() < 0.6),
    )


def _glasses(rng: Rng, kit: str) -> list[Glass]:
    labels = {
        "one": [float(rng.choice([3, 6, 6, 10, 10]))],
        "six-ten": [6.0, 10.0],
        "three-six-ten": [3.0, 6.0, 10.0],
        "full": [2.0, 3.0, 6.0, 10.0],
    }[kit]
    unit = str(rng.choice(["stops", "density", "factor"], p=[0.6, 0.3, 0.1]))
    found = [_neutral(rng, label, unit) for label in labels]
    if kit == "full":
        for name, kind, stops in (
            ("g2s", "grad-soft", 2.0),
            ("g3h", "grad-hard", 3.0),
            ("g3r", "grad-hard", 3.0),
        ):
            found.append(Glass(name, kind, stops, stops + float(rng.normal(0, 0.1))))
        found.append(Glass("pol", "polariser", 1.5, 1.5))
    return found


def _neutral(rng: Rng, label: float, unit: str) -> Glass:
    """The denser, the further from the label; ten-stop filters of the trade lie within about a stop."""
    true = label + float(rng.normal(0.0, 0.04 + 0.03 * label))
    said = {"stops": label, "density": round(0.3 * label, 1) * STOPS_PER_DENSITY, "factor": label}[unit]
    return Glass(f"n{label:g}", "neutral", said, true, unit)


def _body(rng: Rng, name: str) -> BagBody:
    sensor, pixels = [
        ((35.9, 24.0), (7360, 4912)),
        ((23.5, 15.6), (6000, 4000)),
        ((17.3, 13.0), (5184, 3888)),
    ][int(rng.choice(3, p=[0.5, 0.35, 0.15]))]
    return BagBody(
        name=name,
        model=f"Aurin {name}{int(rng.integers(2, 9))}",
        sensor_mm=sensor,
        pixels=pixels,
        base_iso=int(rng.choice([64, 100, 100, 100, 200])),
        per_stop=3 if rng.random() < 0.85 else 2,
        writes_bias=bool(rng.random() < 0.85),
        writes_mode=bool(rng.random() < 0.85),
        whole_seconds=bool(rng.random() < 0.55),
        stamps_end=bool(rng.random() < 0.15),
        writes_offset=bool(rng.random() < 0.45),
        has_gps=bool(rng.random() < 0.3),
        loses_time=0.01 if rng.random() < 0.15 else 0.0,
        raw_only=bool(rng.random() < 0.15),
        clock_ahead_s=float(rng.normal(0, 8)) if name != "A" else 0.0,
    )


def kit_toml(bag: Bag) -> str:
    """The kit as the photographer writes it down."""
    lines = []
    if bag.tells_place:
        sign = "-" if bag.offset_min < 0 else "+"
        hours, minutes = divmod(abs(bag.offset_min), 60)
        lines += [f"latitude_deg = {bag.latitude_deg:.2f}", f"longitude_deg = {bag.longitude_deg:.2f}"]
        lines += [f'utc_offset = "{sign}{hours:02d}:{minutes:02d}"']
    for body in bag.bodies:
        width, height = body.sensor_mm
        lines += ["[[body]]", f'name = "{body.name}"', f'model = "{body.model}"']
        lines += [f"sensor_mm = [{width}, {height}]"]
    for lens in bag.lenses:
        lines += ["[[lens]]", f'id = "{lens.id}"', f'exif = ["{lens.exif}"]', "thread_mm = 77"]
        lines += [f"focal_mm = [{lens.focal_mm[0]}, {lens.focal_mm[1]}]"]
    if not bag.screw_in:
        lines += ["[[ring]]", 'id = "r77"', "thread_mm = 77"]
        lines += ["[[holder]]", 'id = "main"', "slots = 3", "front_ring_mm = 98"]
    for glass in bag.glasses:
        lines += _filter_lines(bag, glass)
    return "\n".join(lines) + "\n"


def _filter_lines(bag: Bag, glass: Glass) -> list[str]:
    lines = ["[[screw_in]]", "thread_mm = 77"] if bag.screw_in else ["[[filter]]"]
    lines += [f'id = "{glass.id}"', f'kind = "{glass.kind}"']
    if glass.kind == "polariser":
        return [*lines, "round = true"]
    if glass.unit == "density":
        lines.append(f"density = {glass.label_stops / STOPS_PER_DENSITY:.1f}")
    elif glass.unit == "factor":
        lines.append(f"factor = {2.0**glass.label_stops:.0f}")
    else:
        lines.append(f"stops = {glass.label_stops:g}")
    if not bag.screw_in and glass.kind == "neutral" and glass.label_stops >= 5.9:
        densest = max(bag.neutrals, key=lambda g: g.label_stops)
        lines.append(f"gasket = {str(glass is densest).lower()}")
    return lines


def rig_lines(bag: Bag, ids: Sequence[str]) -> list[str]:
    """The lines of a span that say what was worn."""
    if not ids:
        return ["bare = true"]
    if bag.screw_in:
        return [f"behind = [{_quoted(ids)}]"]
    lines = ['ring = "r77"', 'holder = "main"']
    strength = {g.id: g.label_stops * (g.kind == "neutral") for g in bag.glasses}
    slots = sorted((name for name in ids if name != "pol"), key=lambda name: -strength[name])
    if slots:
        lines.append(f"slots = [{_quoted(slots)}]")
    if "pol" in ids:
        lines.append('front = "pol"')
    return lines


def _quoted(names: Sequence[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)
