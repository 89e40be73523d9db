"""The invented gear as it really is; the kit file the photographer wrote about it is in `kit_file`.

Where the two differ on purpose (a slip of unit, a depth only roughly known), the difference is planted.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from audit.demo.rays import Box, Bundle, Opening, Pane, Round


@dataclass(frozen=True)
class Body:
    """A camera: sensor in mm, its pixels, first file counter, and the words its files carry."""

    label: str
    model: str
    serial: str
    width_mm: float
    height_mm: float
    crop: float
    prefix: str
    card: str
    folder_suffix: str
    first_folder: int
    first_counter: int
    columns_px: int
    rows_px: int


@dataclass(frozen=True)
class Lens:
    """A lens with its true entrance pupil: depth behind the thread, growth off the axis and drift."""

    id: str
    exif: str
    serial: str
    focal_mm: tuple[float, float]
    widest_f: float
    depth_mm: float
    radial_growth: float
    tangential_growth: float
    drift_mm: float

    def bundle(self, focal_length_mm: float, f_number: float) -> Bundle:
        """The lens' bundle at one setting."""
        growth = (self.radial_growth, self.tangential_growth)
        return Bundle(focal_length_mm, f_number, self.depth_mm, *growth, self.drift_mm)


@dataclass(frozen=True)
class Glass:
    """A filter: stops really lost (even over the frame, or above the edge of a grad), colour, edge width."""

    kind: str
    stops: float
    tint: tuple[float, float, float] = (1.0, 1.0, 1.0)
    edge_mm: float = 0.0


@dataclass(frozen=True)
class Rig:
    """What is in front of the lens, or what the photographer says is: worn, bare, unknown or silent."""

    state: str = "worn"
    ring: str = ""
    slots: tuple[str, ...] = ()
    front: str = ""
    behind: tuple[str, ...] = ()
    turn_deg: float = 0.0
    second_slots: tuple[str, ...] = ()
    second_turn_deg: float = 0.0
    eyepiece_covered: bool = False

    @property
    def glasses(self) -> tuple[str, ...]:
        """Every filter, back to front."""
        return (*(s for s in self.slots if s), *([self.front] if self.front else []), *self.second_slots)


BARE, UNKNOWN, SILENT = Rig("bare"), Rig("unknown"), Rig("silent")


def standard(*slots: str, **more: Any) -> Rig:
    """The holder on the standard 77 mm ring."""
    return Rig(ring="r77", slots=slots, **more)


def recessed(*slots: str, **more: Any) -> Rig:
    """The holder on the recessed 77 mm ring."""
    return Rig(ring="r77low", slots=slots, **more)


BODIES = {
    "A": Body(
        "A", "Brattholm Tarn", "3001234", 35.9, 24.0, 1.0, "TARN", "card-1", "BRATA", 128, 9990, 6000, 4000
    ),
    "B": Body(
        "B", "Brattholm Beck", "5107780", 23.5, 15.6, 1.534, "BECK", "card-2", "BRATC", 104, 412, 4260, 2840
    ),
}

# Depths: the kit states 25.0 +- 1.5 for w16 and nothing for the other two.
LENSES = {
    "w16": Lens("w16", "Sund 16-35 mm f4", "70114", (16, 35), 4.0, 25.4, 1.6, 0.5, 0.9),
    "s24": Lens("s24", "Sund 24-70 mm f2.8", "70982", (24, 70), 2.8, 27.0, 1.4, 0.4, 1.0),
    "m24": Lens("m24", "", "", (24, 24), 2.8, 23.5, 1.2, 0.4, 0.8),
}

GLASSES = {
    "n3": Glass("neutral", 3.05, (0.99, 1.0, 0.99)),
    "n6": Glass("neutral", 5.9, (1.03, 1.0, 0.95)),
    "n10": Glass("neutral", 10.1, (1.11, 1.0, 0.87)),
    "n4": Glass("neutral", 4.9, (1.0, 1.0, 0.99)),
    "dusk6": Glass("neutral", 6.05, (1.02, 1.0, 0.97)),
    "old3": Glass("neutral", 3.0, (1.0, 1.0, 0.98)),
    "g2soft": Glass("grad", 2.0, edge_mm=26.0),
    "g3hard": Glass("grad", 3.0, edge_mm=3.0),
    "pol": Glass("polariser", 1.5, (0.99, 1.0, 1.01)),
}

BORE_MM = {"r77": 74.0, "r77low": 74.0, "s58-77": 55.0, "protect77": 73.0}
HEIGHT_MM = {"r77": 4.0, "r77low": 0.5, "s58-77": 3.0, "protect77": 5.0}
HOLDER_BORE_MM, HOLDER_BASE_MM, HOLDER_SLOTS, HOLDER_CLEAR_MM, SLOT_PITCH_MM = 87.0, 7.4, 2, 96.0, 3.2
FRONT_RING_MM, FRONT_RING_THICKNESS_MM = 98.0, 7.5
PLATE_MM = 2.0
GLAZED = ("protect77",)
_RAIL_LENGTH_MM = 400.0


def openings(rig: Rig) -> list[Opening]:
    """Every opening of a worn rig, from the lens outwards."""
    if rig.state != "worn":
        return []
    found: list[Opening] = []
    seat_mm = 0.0
    for part in (*rig.behind, rig.ring):
        seat_mm += HEIGHT_MM[part]
        found.append(Round(BORE_MM[part] / 2, seat_mm))
    found += _holder(seat_mm, rig.turn_deg)
    front_mm = seat_mm + HOLDER_BASE_MM + HOLDER_SLOTS * SLOT_PITCH_MM
    if rig.front:
        front_mm += FRONT_RING_THICKNESS_MM
        found.append(Round(FRONT_RING_MM / 2, front_mm))
    if rig.second_slots:
        found += _holder(front_mm, rig.second_turn_deg)
    return found


def _holder(seat_mm: float, turn_deg: float) -> list[Opening]:
    """Bore and both ends of the rails of one holder; a clockwise turn is a negative angle here."""
    back_mm = seat_mm + HOLDER_BASE_MM
    ends = (back_mm, back_mm + HOLDER_SLOTS * SLOT_PITCH_MM)
    rails = [Box(HOLDER_CLEAR_MM, _RAIL_LENGTH_MM, end, -turn_deg) for end in ends]
    return [Round(HOLDER_BORE_MM / 2, back_mm), *rails]


def panes(rig: Rig) -> list[Pane]:
    """The glass of a worn rig: each plate in the middle of its slot, round ones just before their bore."""
    if rig.state != "worn":
        return []
    found: list[Pane] = []
    seat_mm = 0.0
    for part in (*rig.behind, rig.ring):
        seat_mm += HEIGHT_MM[part]
        if part in GLAZED:
            found.append(Pane(PLATE_MM, seat_mm))
    found += _slotted(seat_mm, rig.slots)
    front_mm = seat_mm + HOLDER_BASE_MM + HOLDER_SLOTS * SLOT_PITCH_MM
    if rig.front:
        front_mm += FRONT_RING_THICKNESS_MM
        found.append(Pane(PLATE_MM, front_mm))
    return [*found, *_slotted(front_mm, rig.second_slots)]


def _slotted(seat_mm: float, slots: tuple[str, ...]) -> list[Pane]:
    first_mm = seat_mm + HOLDER_BASE_MM + (SLOT_PITCH_MM - PLATE_MM) / 2
    return [Pane(PLATE_MM, first_mm + n * SLOT_PITCH_MM) for n, name in enumerate(slots) if name]


def even_stops(rig: Rig) -> float:
    """Stops really lost over the whole frame."""
    return sum(GLASSES[g].stops for g in rig.glasses if GLASSES[g].kind != "grad")
