"""From a span and the kit to the rig that was worn."""

from __future__ import annotations

from audit.declare.openings import stack
from audit.declare.rig import Rig
from audit.declare.rig_rules import threads
from audit.declare.rig_words import mount_words, rig_words, stops_words
from audit.declare.worn import Worn
from audit.kit.kit import Filter, Kit, ScrewIn
from audit.message.text import marked


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
        stops_words=marked("not known") if worn.unknown else stops_words(parts, even, grads),
        gasketed=tuple(part.id for part in parts if isinstance(part, Filter) and part.gasket),
        source=worn.source or Rig.source,
    )


def filters_worn(worn: Worn, kit: Kit) -> list[Filter | ScrewIn]:
    """All filters of a span back to front: screw-ins, slots, slots of the second holder, front ring."""
    screwed = [x for name in worn.behind if isinstance(x := kit.between(name), ScrewIn)]
    names = [*worn.slots, *worn.second_slots, worn.front or ""]
    return [*screwed, *(part for name in names if name and (part := kit.filter(name)) is not None)]


def sum_of_stops(parts: list[Filter | ScrewIn]) -> tuple[tuple[float, float], float]:
    """(least, most) loss over the whole frame, and what the grads take together where they are dense."""
    even = [part.loss_stops for part in parts if not part.is_grad]
    grads = sum(part.loss_stops[1] for part in parts if part.is_grad)
    return (sum((low for low, _ in even), 0.0), sum((high for _, high in even), 0.0)), float(grads)
