"""What carries the filters of a span that names no holder: a rig of the kit, by the lens of the frame.

First the rig that the span names, then that of the lens, then the kit's only one; where the kit has none,
the one holder and the one ring that can carry these filters.
"""

from __future__ import annotations

from typing import Any

from audit.declare.worn import RIG_KEYS, Worn
from audit.kit.kit import Holder, Kit, Lens, StepRing
from audit.kit.named_rig import CARRIES, NamedRig
from audit.message.figures import one_of
from audit.message.text import marked, say
from audit.toml.fault import Fault, suggestion

CARRIED = tuple(key for key in RIG_KEYS if key not in (*CARRIES, "rig"))
"""What needs a holder to be on."""


def is_short(worn: Worn) -> bool:
    """Whether the kit has to say what carries the filters."""
    return worn.rig is not None or (worn.holder is None and any(key in worn.rig_keys for key in CARRIED))


def carried(worn: Worn, lens_id: str | None, kit: Kit) -> tuple[Worn, Fault | None]:
    """A short span with its ring and holder on a lens; as it is, with the fault, where the kit is unclear."""
    rig, fault = _rig(worn, lens_id, kit)
    if rig is None or fault is not None:
        return worn, fault
    found: dict[str, Any] = {"rig": None}
    for key in CARRIES:
        if key not in worn.rig_keys:
            found[key] = getattr(rig, key)
    if worn.ring is not None and "behind" not in worn.rig_keys:
        found["behind"] = ()  # another ring sits on the lens itself, until the span says otherwise
    elif worn.behind and not any(isinstance(kit.between(name), StepRing) for name in worn.behind):
        found["behind"] = (*worn.behind, *rig.behind)  # screw-ins come next to the lens
    return worn.model_copy(update=found), None


def default_rig(kit: Kit, lens_id: str | None) -> NamedRig | None:
    """The rig that a lens wears where nothing else is said; an unknown lens wears that of all of them."""
    lens = kit.lens(lens_id) if lens_id is not None else None
    if lens is not None and lens.rig is not None:
        return kit.rig(lens.rig, lens_id)
    names = {rig.id for rig in kit.rigs}
    if lens is None and len(names) > 1:
        names = {one.rig for one in kit.lenses if one.rig is not None}
    return kit.rig(names.pop(), lens_id) if len(names) == 1 else None


def rings_for(kit: Kit, lens: Lens | None) -> tuple[str, tuple[str, ...]]:
    """A step ring, where one is needed, and the rings that fit."""
    if lens is None:
        return "", (kit.rings[0].id,) if len(kit.rings) == 1 else ()
    threads = {"": lens.thread_mm} | {s.id: s.to_mm for s in kit.step_rings if s.from_mm == lens.thread_mm}
    for step, thread_mm in threads.items():
        fit = tuple(ring.id for ring in kit.rings if ring.thread_mm == thread_mm)
        if fit:
            return step, fit
    return "", ()


def holders_for(kit: Kit, slots: int, front: bool) -> list[Holder]:
    """The holders with slots enough, and a front ring where one is needed."""
    return [h for h in kit.holders if h.slots >= slots and (not front or h.front_ring_mm is not None)]


def _rig(worn: Worn, lens_id: str | None, kit: Kit) -> tuple[NamedRig | None, Fault | None]:
    if worn.rig is not None:
        rig = kit.rig(worn.rig, lens_id)
        return rig, None if rig is not None else _unknown(worn.rig, lens_id, kit)
    rig = default_rig(kit, lens_id)
    return (rig, None) if rig is not None else _only(worn, lens_id, kit)


def on_no_lens(worn: Worn, kit: Kit) -> Fault | None:
    """Why nothing of the kit carries a short span, whatever the lens; None where some lens may tell."""
    if worn.rig is not None:
        known = {rig.id for rig in kit.rigs}
        return None if worn.rig in known else _unknown(worn.rig, worn.lens, kit)
    return None if kit.rigs else _no_holder(worn, kit)


def _unknown(name: str, lens_id: str | None, kit: Kit) -> Fault:
    known = sorted({rig.id for rig in kit.rigs})
    if name in known:
        words = marked('"{name}" is a rig for other lenses only; give it one more [[rig]] in the kit')
        if lens_id is not None:
            words = marked('"{name}" is no rig for lens "{lens_name}"; add [[rig]] with that lens to the kit')
        return Fault("rig", say(words, name=name, lens_name=lens_id))
    hint = suggestion(name, known, marked("it has {known_key}")) if known else marked("it has none")
    return Fault("rig", say('"{name}" is no rig of the kit; {hint}', name=name, hint=hint))


def _only(worn: Worn, lens_id: str | None, kit: Kit) -> tuple[NamedRig | None, Fault | None]:
    """The one holder and the one ring that the kit can carry the filters with."""
    if (fault := _no_holder(worn, kit)) is not None:
        return None, fault
    (holder,) = _holders_for(worn, kit)
    rings: tuple[str, ...] = (worn.ring,) if worn.ring is not None else ()
    step = ""
    if not rings and holder.push_on_mm is None:
        step, rings = rings_for(kit, kit.lens(lens_id) if lens_id is not None else None)
        if len(rings) != 1:
            return None, Fault(_first_key(worn), _no_ring(rings, lens_id))
    behind = (step,) if step else ()
    return NamedRig(id="only", behind=behind, ring=next(iter(rings), None), holder=holder.id), None


def _first_key(worn: Worn) -> str:
    return next(key for key in CARRIED if key in worn.rig_keys)


def _no_holder(worn: Worn, kit: Kit) -> Fault | None:
    holders = [holder.id for holder in _holders_for(worn, kit)]
    if len(holders) == 1:
        return None
    words = marked("needs a holder; name it with holder = ..., or give the lens a rig in the kit")
    if holders:
        words = marked(
            "needs a holder, and {names} of the kit would do; write holder = ..., or give the lens a rig "
            "in the kit"
        )
    return Fault(_first_key(worn), say(words, names=one_of(holders)))


def _holders_for(worn: Worn, kit: Kit) -> list[Holder]:
    return holders_for(kit, len(worn.slots), worn.front is not None)


def _no_ring(rings: tuple[str, ...], lens_id: str | None) -> str:
    if rings:
        words = marked(
            "needs a ring, and {names} of the kit would do; write ring = ..., or give the lens a rig in "
            "the kit"
        )
        return say(words, names=one_of(list(rings)))
    if lens_id is None:
        return marked("needs a ring, and the lens of the frame is not known; write lens = ... or ring = ...")
    words = marked('needs a ring, and the kit has none for lens "{name}"; add it to the kit')
    return say(words, name=lens_id)
