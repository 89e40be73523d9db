"""What the kit says of the filters of a rig, beyond their sum of stops."""

from __future__ import annotations

from collections.abc import Iterable

from audit.declare.rig import Rig
from audit.kit.kit import Filter, Kit, ScrewIn

STRONG_STOPS = 6.0
"""From here on light that leaks past a filter, or time that must be reckoned, matters (common practice)."""


def of_rigs(rigs: Iterable[Rig | None], kit: Kit) -> list[tuple[float, tuple[str, ...]]]:
    """(neutral_stops, ungasketed) of each; NaN and none without a rig. A rig is looked at once."""
    known: dict[int, tuple[float, tuple[str, ...]]] = {id(None): (float("nan"), ())}
    found = []
    for rig in rigs:
        if rig is not None and id(rig) not in known:
            known[id(rig)] = neutral_stops(rig, kit), ungasketed(rig, kit)
        found.append(known[id(rig)])
    return found


def neutral_stops(rig: Rig, kit: Kit) -> float:
    """Loss declared over the whole frame without a polariser, whose loss turns with it."""
    return float(sum(p.loss_stops[0] for p in _parts(rig, kit) if not p.is_grad and p.kind != "polariser"))


def ungasketed(rig: Rig, kit: Kit) -> tuple[str, ...]:
    """Ids of the strong filters in slots, back to front, for which the kit gives no gasket.

    A round or screw-in filter closes against its thread and needs none.
    """
    slots = {*rig.slots, *rig.second_slots}
    return tuple(
        part.id
        for part in _parts(rig, kit)
        if part.id in slots and part.loss_stops[0] >= STRONG_STOPS and part.id not in rig.gasketed
    )


def _parts(rig: Rig, kit: Kit) -> list[Filter | ScrewIn]:
    found = [kit.filter(name) or kit.between(name) for name in rig.filters]
    return [part for part in found if isinstance(part, Filter | ScrewIn)]
