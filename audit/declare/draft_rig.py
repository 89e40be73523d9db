"""What could have carried a set of filters: no exposure tells, so the kit decides."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import Any

from audit.declare.carried import carried, default_rig, holders_for, is_short, rings_for
from audit.declare.frame_lines import places
from audit.declare.homes import quoted
from audit.declare.rig_rules import rig_faults
from audit.declare.worn import Worn
from audit.kit.kit import Kit, Lens


@dataclass(frozen=True)
class RigLines:
    """Keys of a span; `why` where the kit cannot carry the filters, `rings` that fit as well."""

    lines: tuple[str, ...]
    rings: tuple[str, ...] = ()
    why: str = ""


def rig_lines(kit: Kit, lens: Lens | None, ids: tuple[str, ...]) -> RigLines:
    """Ring, holder and slots for a set of filters; nothing of it is told by an exposure, so the kit decides.

    The lens' own rig where the kit names one and it takes them: then it need not be written. Else the
    simplest that fits: the first holder with slots enough, on the first ring of the lens' thread, or on the
    first step ring from it to a ring. `ids` is not empty: that no neutral was on says nothing of grads,
    polariser and holder, so it is no rig.
    """
    placed = places(ids, kit)
    if default_rig(kit, lens.id if lens is not None else None) is not None:
        short = _written(placed)
        if not _faults(kit, lens, short):
            return RigLines(short)
    slots, front = placed.get("slots", ()), placed.get("front")
    found: dict[str, Any] = {"behind": list(placed.get("behind", ()))}
    others: tuple[str, ...] = ()
    if slots or front:
        holder = next(iter(holders_for(kit, len(slots), front is not None)), None)
        if holder is None:
            return RigLines((), why="no holder of the kit has slots enough")
        if holder.push_on_mm is None:
            step, rings = rings_for(kit, lens)
            if not rings:
                return RigLines((), why=_no_ring(lens))
            found["behind"] += [step] if step else []
            found["ring"], others = rings[0], rings[1:]
        found |= {"holder": holder.id, "slots": slots, "front": front}
    lines = _written(found)
    return RigLines(lines, others, _faults(kit, lens, lines))


def _written(keys: dict[str, Any]) -> tuple[str, ...]:
    """Keys of a span as TOML, without those that say nothing."""
    return tuple(
        f"{key} = [{quoted(value)}]" if isinstance(value, list) else f"{key} = {quoted([value])}"
        for key, value in keys.items()
        if value
    )


def _no_ring(lens: Lens | None) -> str:
    if lens is None:
        return "the lens is not in the kit, so no ring can be named"
    return f'no ring or step ring of the kit fits lens "{lens.id}"; name them by hand'


def _faults(kit: Kit, lens: Lens | None, lines: tuple[str, ...]) -> str:
    """What the rules of rigs say against it, or an empty text."""
    lens_id = lens.id if lens is not None else None
    said = {**tomllib.loads("\n".join(lines)), "files": ["x"], **({"lens": lens_id} if lens_id else {})}
    worn, fault = Worn.model_validate(said), None
    if is_short(worn):
        worn, fault = carried(worn, lens_id, kit)
    wrong = [*([fault] if fault else ()), *rig_faults(worn, kit)]
    return next((f.text for f in wrong if f.level == "error"), "")
