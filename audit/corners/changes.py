"""The changes to a rig that a photographer can make in the field or in the shop, each on its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from audit.corners.asked import Asked, with_part
from audit.declare.rig_rules import threads
from audit.kit.kit import Holder, Ring, ScrewIn, StepRing
from audit.kit.sense_threads import USUAL
from audit.optics.rules import RECESSED_THREADS_MM


@dataclass(frozen=True)
class Change:
    """A change in words, and the rig after it."""

    words: str
    asked: Asked


def changes(asked: Asked) -> Iterator[Change]:
    """Every change that the rig allows; whether it helps is for the model to say."""
    yield from _recessed(asked)
    yield from _larger_ring(asked)
    for key, name in (("holder", ""), ("second_holder", ", second holder")):
        yield from _slot_less(asked, key, name)
    yield from _turned_back(asked)
    yield from _taken_off(asked)


def _worn(asked: Asked, **update: Any) -> Asked:
    return replace(asked, worn=asked.worn.model_copy(update=update))


def _recessed(asked: Asked) -> Iterator[Change]:
    ring = asked.kit.ring(asked.worn.ring or "")
    if ring is None or ring.kind == "recessed":
        return
    mine = [r for r in asked.kit.rings if r.kind == "recessed" and r.thread_mm == ring.thread_mm]
    low, high = RECESSED_THREADS_MM
    if not mine and not low <= ring.thread_mm <= high:
        return
    other = mine[0] if mine else Ring(id="recessed", thread_mm=ring.thread_mm, kind="recessed")
    kit = with_part(asked.kit, "rings", other)
    yield Change("a recessed ring instead", replace(_worn(asked, ring=other.id), kit=kit))


def _larger_ring(asked: Asked) -> Iterator[Change]:
    """A step ring to the next larger thread, and a ring of that size; the kit's own where it has them."""
    ring = asked.kit.ring(asked.worn.ring or "")
    chain = threads(asked.worn, asked.kit)
    if ring is None or not chain:
        return
    larger = next((size for size in USUAL if size > ring.thread_mm), None)
    if larger is None:
        return
    kit = asked.kit
    steps = [s for s in kit.step_rings if (s.from_mm, s.to_mm) == (ring.thread_mm, larger)]
    step = steps[0] if steps else StepRing(id="step", from_mm=ring.thread_mm, to_mm=larger)
    rings = [r for r in kit.rings if (r.thread_mm, r.kind) == (larger, ring.kind)]
    wide = rings[0] if rings else Ring(id="larger", thread_mm=larger, kind=ring.kind)
    kit = with_part(with_part(kit, "rings", wide), "step_rings", step)
    worn = _worn(asked, behind=(*asked.worn.behind, step.id), ring=wide.id)
    yield Change(f"a ring of {larger:g} mm on a step ring", replace(worn, kit=kit))


def _slot_less(asked: Asked, key: str, name: str) -> Iterator[Change]:
    holder = asked.kit.holder(getattr(asked.worn, key) or "")
    if holder is None or holder.slots < 2:
        return
    less = holder.model_copy(update={"id": f"smaller {holder.id}", "slots": holder.slots - 1})
    words = f"one slot less{name} ({less.slots})"
    yield Change(words, _swapped(asked, key, less))


def _swapped(asked: Asked, key: str, holder: Holder) -> Asked:
    return replace(_worn(asked, **{key: holder.id}), kit=with_part(asked.kit, "holders", holder))


def _turned_back(asked: Asked) -> Iterator[Change]:
    first, second = asked.worn.turn_deg or 0.0, asked.worn.second_turn_deg or 0.0
    if asked.worn.second_holder and (second - first) % 180:
        yield Change("the second holder turned back", _worn(asked, second_turn_deg=first))
    if asked.worn.holder and first % 180:
        yield Change("the holder turned back", _worn(asked, turn_deg=0.0))
    if any(asked.worn.shift_mm or ()):
        yield Change("the lens shifted back", _worn(asked, shift_mm=None))


def _taken_off(asked: Asked) -> Iterator[Change]:
    worn = asked.worn
    if worn.second_holder:
        yield Change("no second holder", _worn(asked, second_holder=None, second_turn_deg=None))
    if worn.front:
        yield Change("no front ring", _worn(asked, front=None))
    if worn.hood:
        yield Change("no hood", _worn(asked, hood=None))
    for name in worn.behind:
        if isinstance(asked.kit.between(name), ScrewIn):
            rest = tuple(other for other in worn.behind if other != name)
            yield Change(f"no screw-in {name}", _worn(asked, behind=rest))
