"""From a span and the kit to the rig that was worn."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from audit.declare.rig import Opening, Rails, Rig
from audit.declare.rig_rules import threads
from audit.declare.rig_words import mount_words, open_words, rig_words, stops_words
from audit.declare.worn import Worn
from audit.kit.kit import Filter, Holder, Kit, Ring, ScrewIn, StepRing
from audit.message.text import say

# Default dimensions in mm: common practice, no source.
BORE_BELOW_THREAD = 3.0
RING_HEIGHT = {"standard": 4.0, "recessed": 0.5}
STEP_RING_HEIGHT, SCREW_IN_HEIGHT = 3.0, 5.0
HOLDER_BORE, HOLDER_BASE, CLEAR_WIDTH, SLOT_PITCH = 85.0, 7.0, 90.0, 3.2
FRONT_RING_MM, FRONT_RING_THICKNESS = 98.0, 7.5
PLATE_THICKNESS = 2.0


class DefaultHolder(Holder):
    """A holder that no kit has: the size of its front ring is assumed too."""


@dataclass
class RigStack:
    """Openings and rails so far; `front_mm` is where the next part would sit."""

    front_mm: float = 0.0
    openings: list[Opening] = field(default_factory=list)
    rails: list[Rails] = field(default_factory=list)
    guessed: list[str] = field(default_factory=list)
    glass_mm: float = 0.0
    guessed_glass: list[str] = field(default_factory=list)
    loose: list[tuple[float, float, float]] = field(default_factory=list)
    """Seat, play and tangent of the tilt of each holder so far; what is mounted on it moves with it."""

    def value(self, given: float | None, default: float, what: str) -> float:
        """The kit's dimension, or the default, remembered as assumed."""
        if given is not None:
            return given
        if what not in self.guessed:
            self.guessed.append(what)
        return default

    def hole(self, name: str, diameter_mm: float, across: tuple[str, ...] = ()) -> None:
        """A circular opening at the front so far; every height guessed below it counts."""
        along, glass = tuple(self.guessed), tuple(self.guessed_glass)
        rest = across, along, self.glass_mm, glass, *self._errors(diameter_mm)
        self.openings.append(Opening(name, diameter_mm, self.front_mm, *rest))

    def edges(self, name: str, width_mm: float, turn_deg: float, across: tuple[str, ...]) -> None:
        """Rails that end at the front so far."""
        along, glass = tuple(self.guessed), tuple(self.guessed_glass)
        rest = across, along, self.glass_mm, glass, *self._errors(width_mm)
        self.rails.append(Rails(name, width_mm, self.front_mm, turn_deg % 360.0, *rest))

    def _errors(self, width_mm: float) -> tuple[float, float]:
        """How far an opening may lie aside, and its edge along the axis; holders add as squares."""
        aside = [part for seat, play, tan in self.loose for part in (play, tan * (self.front_mm - seat))]
        return math.hypot(*aside), math.hypot(*(tan * width_mm / 2 for _, _, tan in self.loose))

    def plate(self, part: Filter | ScrewIn) -> None:
        """A filter that all further openings lie before; unlike a length it moves no opening."""
        if part.thickness_mm is None:
            self.guessed_glass.append(say("thickness of filter {name}", name=part.id))
        self.glass_mm += PLATE_THICKNESS if part.thickness_mm is None else part.thickness_mm


def stack(worn: Worn, kit: Kit) -> RigStack:
    """All openings and rails of a span, from the lens outwards."""
    parts = RigStack()
    for name in worn.behind:
        part = kit.between(name)
        if part is not None:
            _between(parts, part)
    ring = kit.ring(worn.ring) if worn.ring else None
    if ring is not None:
        _ring(parts, ring)
    _holders(parts, worn, kit)
    hood = kit.hood(worn.hood) if worn.hood else None
    if hood is not None:
        parts.front_mm += hood.length_mm
        parts.hole(say("hood {name}", name=hood.id), hood.bore_mm)
    return parts


def _bore(given: float | None, thread_mm: float, what: str) -> tuple[float, tuple[str, ...]]:
    if given is not None:
        return given, ()
    return thread_mm - BORE_BELOW_THREAD, (say("bore of {part}", part=what),)


def _between(parts: RigStack, part: StepRing | ScrewIn) -> None:
    if isinstance(part, StepRing):
        what, height = say("step ring {name}", name=part.id), STEP_RING_HEIGHT
        thread = min(part.from_mm, part.to_mm)
    else:
        what, height, thread = say("screw-in {name}", name=part.id), SCREW_IN_HEIGHT, part.thread_mm
    parts.front_mm += parts.value(part.height_mm, height, say("height of {part}", part=what))
    diameter, assumed = _bore(part.bore_mm, thread, what)
    parts.hole(what, diameter, assumed)
    if isinstance(part, ScrewIn):
        parts.plate(part)


def _ring(parts: RigStack, ring: Ring) -> None:
    what = say("ring {name}", name=ring.id)
    parts.front_mm += parts.value(ring.height_mm, RING_HEIGHT[ring.kind], say("height of {part}", part=what))
    diameter, assumed = _bore(ring.bore_mm, ring.thread_mm, what)
    parts.hole(what, diameter, assumed)


def _holders(parts: RigStack, worn: Worn, kit: Kit) -> None:
    first = kit.holder(worn.holder) if worn.holder else None
    second = kit.holder(worn.second_holder) if worn.second_holder else None
    if first is None:
        return
    if worn.ring is None and first.push_on_mm is not None:
        parts.front_mm = 0.0
    # The round filter sits on the front ring of the holder furthest out that has one.
    on_second = worn.front is not None and second is not None and second.front_ring_mm is not None
    on_first = worn.front is not None and first.front_ring_mm is not None and not on_second
    _holder(parts, first, worn.turn_deg or 0.0, _plates(worn.slots, kit))
    # The round filter sits before the bore of its ring.
    front = _plates((worn.front or "",), kit)
    if on_first:
        _front_ring(parts, first, front)
    if second is not None:
        _holder(parts, second, worn.second_turn_deg or 0.0, _plates(worn.second_slots, kit))
    if second is not None and on_second:
        _front_ring(parts, second, front)


def _plates(names: Sequence[str], kit: Kit) -> list[Filter]:
    return [part for name in names if name and (part := kit.filter(name)) is not None]


def _holder(parts: RigStack, holder: Holder, turn_deg: float, plates: Sequence[Filter]) -> None:
    what = say("holder {name}", name=holder.id)
    if holder.play_mm or holder.tilt_deg:
        tilt = math.tan(math.radians(holder.tilt_deg or 0.0))
        parts.loose.append((parts.front_mm, holder.play_mm or 0.0, tilt))
    parts.front_mm += parts.value(holder.base_mm, HOLDER_BASE, say("base of {part}", part=what))
    bore = HOLDER_BORE if holder.bore_mm is None else holder.bore_mm
    parts.hole(what, bore, () if holder.bore_mm is not None else (say("bore of {part}", part=what),))
    pitch = parts.value(holder.slot_pitch_mm, SLOT_PITCH, say("slot pitch of {part}", part=what))
    parts.front_mm += holder.slots * pitch
    clear = CLEAR_WIDTH if holder.clear_width_mm is None else holder.clear_width_mm
    across = () if holder.clear_width_mm is not None else (say("clear width of {part}", part=what),)
    # Every slot lies behind the front end of the rails.
    for plate in plates:
        parts.plate(plate)
    parts.edges(what, clear, turn_deg, across)


def _front_ring(parts: RigStack, holder: Holder, plates: Sequence[Filter]) -> None:
    what = say("front ring of holder {name}", name=holder.id)
    guess = say("thickness of the front ring of holder {name}", name=holder.id)
    thickness = parts.value(holder.front_ring_thickness_mm, FRONT_RING_THICKNESS, guess)
    parts.front_mm += thickness
    if holder.front_ring_mm is not None:
        across = (say("bore of the {part}", part=what),) if isinstance(holder, DefaultHolder) else ()
        parts.hole(what, holder.front_ring_mm, across)
    for plate in plates:
        parts.plate(plate)


def build_rig(worn: Worn, kit: Kit) -> Rig:
    """The rig of a span whose ids are all in the kit; the same span and kit give an equal rig."""
    parts = filters_worn(worn, kit)
    even, grads = sum_of_stops(parts)
    built = stack(worn, kit)
    ring = kit.ring(worn.ring) if worn.ring else None
    chain = threads(worn, kit)
    return Rig(
        state=worn.state,
        words=rig_words(worn, kit),
        mount_words=mount_words(worn, kit),
        filters=tuple(part.id for part in parts),
        behind=worn.behind,
        ring=worn.ring or "",
        ring_kind=ring.kind if ring is not None else "",
        thread_mm=chain[0][3] if chain else None,
        holder=worn.holder or "",
        slots=worn.slots,
        front=worn.front or "",
        turn_deg=(worn.turn_deg or 0.0) % 360,
        polariser_turn_deg=None if worn.polariser_turn_deg is None else worn.polariser_turn_deg % 360,
        second_holder=worn.second_holder or "",
        second_slots=worn.second_slots,
        second_turn_deg=(worn.second_turn_deg or 0.0) % 360,
        hood=worn.hood or "",
        shift_mm=worn.shift_mm or (0.0, 0.0),
        eyepiece_covered=worn.eyepiece_covered,
        openings=tuple(built.openings),
        rails=tuple(built.rails),
        even_stops=even,
        grad_stops=grads,
        stops_words=open_words(worn) or stops_words(parts, even, grads, grads_upright(worn, kit)),
        gasketed=tuple(part.id for part in parts if isinstance(part, Filter) and part.gasket),
        source=worn.source or Rig.source,
    )


def filters_worn(worn: Worn, kit: Kit) -> list[Filter | ScrewIn]:
    """All filters of a span back to front: screw-ins, slots, slots of the second holder, front ring."""
    screwed = [x for name in worn.behind if isinstance(x := kit.between(name), ScrewIn)]
    names = [*worn.slots, *worn.second_slots, worn.front or ""]
    return [*screwed, *(part for name in names if name and (part := kit.filter(name)) is not None)]


UPRIGHT_DEG = 45.0
"""A grad turned further has its dense half at the side, or at the bottom."""


def grads_upright(worn: Worn, kit: Kit) -> bool:
    """Whether the dense half of every grad lies over the sky, by the turn of its holder."""
    holders = ((worn.slots, worn.turn_deg), (worn.second_slots, worn.second_turn_deg))
    turns = [
        (turn or 0.0) % 360
        for slots, turn in holders
        if any((part := kit.filter(name)) is not None and part.is_grad for name in slots if name)
    ]
    return all(min(turn, 360 - turn) <= UPRIGHT_DEG for turn in turns)


def sum_of_stops(parts: list[Filter | ScrewIn]) -> tuple[tuple[float, float], float]:
    """(least, most) loss over the whole frame, and what the grads take together where they are dense."""
    even = [part.loss_stops for part in parts if not part.is_grad]
    grads = sum(part.loss_stops[1] for part in parts if part.is_grad)
    return (sum((low for low, _ in even), 0.0), sum((high for _, high in even), 0.0)), float(grads)
