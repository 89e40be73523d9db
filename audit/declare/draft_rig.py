"""What could have carried a set of filters: no exposure tells, so the kit decides."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass

from audit.declare.homes import quoted
from audit.declare.rig_rules import rig_faults
from audit.declare.worn import Worn
from audit.kit.kit import Filter, Holder, Kit, Lens


@dataclass(frozen=True)
class RigLines:
    """Keys of a span; `why` where the kit cannot carry the filters, `rings` that fit as well."""

    lines: tuple[str, ...]
    rings: tuple[str, ...] = ()
    why: str = ""


def rig_lines(kit: Kit, lens: Lens | None, ids: tuple[str, ...]) -> RigLines:
    """Ring, holder and slots for a set of filters; nothing of it is told by an exposure, so the kit decides.

    The simplest that fits: the first holder with slots enough, on the first ring of the lens' thread, or on
    the first step ring from it to a ring. `ids` is not empty: that no neutral was on says nothing of grads,
    polariser and holder, so it is no rig.
    """
    parts = [kit.filter(name) for name in ids]
    behind = [name for name, part in zip(ids, parts, strict=True) if part is None]
    slotted = sorted((p for p in parts if p is not None and not p.round), key=_back_first)
    front = [p.id for p in parts if p is not None and p.round]
    lines: list[str] = []
    others: tuple[str, ...] = ()
    if slotted or front:
        holder = _holder(kit, len(slotted), bool(front))
        if holder is None:
            return RigLines((), why="no holder of the kit has slots enough")
        if holder.push_on_mm is None:
            step, rings = _rings(kit, lens)
            if not rings:
                return RigLines((), why=_no_ring(lens))
            behind += [step] if step else []
            lines.append(f"ring = {quoted([rings[0]])}")
            others = rings[1:]
        lines.append(f"holder = {quoted([holder.id])}")
        lines += [f"slots = [{quoted([p.id for p in slotted])}]"] if slotted else []
        lines += [f"front = {quoted(front[:1])}"] if front else []
    lines = [f"behind = [{quoted(behind)}]", *lines] if behind else lines
    return RigLines(tuple(lines), others, _faults(kit, lens, tuple(lines)))


def _back_first(part: Filter) -> tuple[bool, bool, str]:
    """Filters with a gasket belong in the back slot, grads in front (common practice, no source)."""
    return not part.gasket, part.is_grad, part.id


def _holder(kit: Kit, slots: int, front: bool) -> Holder | None:
    fits = (h for h in kit.holders if h.slots >= slots and (not front or h.front_ring_mm is not None))
    return next(fits, None)


def _rings(kit: Kit, lens: Lens | None) -> tuple[str, tuple[str, ...]]:
    """A step ring, where one is needed, and the rings that fit."""
    if lens is None:
        return "", (kit.rings[0].id,) if len(kit.rings) == 1 else ()
    threads = {"": lens.thread_mm} | {s.id: s.to_mm for s in kit.step_rings if s.from_mm == lens.thread_mm}
    for step, thread_mm in threads.items():
        fit = tuple(ring.id for ring in kit.rings if ring.thread_mm == thread_mm)
        if fit:
            return step, fit
    return "", ()


def _no_ring(lens: Lens | None) -> str:
    if lens is None:
        return "the lens is not in the kit, so no ring can be named"
    return f'no ring or step ring of the kit fits lens "{lens.id}"; name them by hand'


def _faults(kit: Kit, lens: Lens | None, lines: tuple[str, ...]) -> str:
    """What the rules of rigs say against it, or an empty text."""
    worn = Worn.model_validate(
        {**tomllib.loads("\n".join(lines)), "files": ["x"], **({"lens": lens.id} if lens else {})}
    )
    return next((f.text for f in rig_faults(worn, kit) if f.level == "error"), "")
