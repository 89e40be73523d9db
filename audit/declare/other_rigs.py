"""The same rig with another piece of the kit in the place of one that was declared."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from audit.declare.rig import Rig
from audit.declare.rigs import build_rig
from audit.declare.worn import Worn
from audit.kit.kit import Kit


class Swap(NamedTuple):
    """A declared piece of the kit, and another one that may have been on instead; `key` is ring or holder."""

    key: str
    declared: str
    instead: str


def swaps(rigs: list[Rig], kit: Kit) -> Iterator[Swap]:
    """Each ring and holder that was declared, with each other one of the kit."""
    for key, parts in (("ring", kit.rings), ("holder", kit.holders)):
        for declared in dict.fromkeys(getattr(rig, key) for rig in rigs if getattr(rig, key)):
            yield from (Swap(key, declared, part.id) for part in parts if part.id != declared)


def swapped(rig: Rig, swap: Swap, kit: Kit) -> Rig:
    """The rig with the other piece; itself where it has not the declared one."""
    if getattr(rig, swap.key) != swap.declared:
        return rig
    worn = Worn(
        behind=rig.behind,
        ring=rig.ring or None,
        holder=rig.holder or None,
        slots=rig.slots,
        front=rig.front or None,
        turn_deg=rig.turn_deg,
        second_holder=rig.second_holder or None,
        second_slots=rig.second_slots,
        second_turn_deg=rig.second_turn_deg,
        hood=rig.hood or None,
        shift_mm=rig.shift_mm,
    )
    return build_rig(worn.model_copy(update={swap.key: swap.instead}), kit)
