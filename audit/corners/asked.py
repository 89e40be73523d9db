"""From a question in ids and numbers to a rig; default dimensions where the kit holds no such part."""

from __future__ import annotations

from dataclasses import dataclass

from audit.corners.asked_lens import asked_lens, asked_sensor, known_ids, usual_focal_mm
from audit.corners.question import Question
from audit.declare.openings import DefaultHolder
from audit.declare.rig import Rig
from audit.declare.rig_rules import rig_faults, threads
from audit.declare.rigs import build_rig
from audit.declare.worn import Worn
from audit.errors import AuditError
from audit.kit.kit import Filter, Holder, Kit, Lens, Ring, StepRing

DEFAULT_SLOTS = 2
FRONT_RING_MM = 98.0
"""Clear diameter of a front ring: default dimension, common practice, no source."""

DEFAULT, FRONT = "default", "polariser"
OPTIONS = {"second_holder": "--second", "slots": "--slots"}


@dataclass(frozen=True)
class Asked:
    """A question made definite. `kit` holds every part that `worn` names."""

    worn: Worn
    kit: Kit
    lens: Lens
    sensor_mm: tuple[float, float]
    focal_mm: tuple[float, ...]

    @property
    def rig(self) -> Rig:
        """The rig; the size of a default holder's front ring is assumed."""
        return build_rig(self.worn, self.kit)


def understand(question: Question, kit: Kit) -> Asked:
    """Finds or makes up each part; raises AuditError, naming the option, for what cannot be."""
    lens = asked_lens(question, kit)
    focal_mm = question.focal_mm or usual_focal_mm(lens)
    held = with_part(kit, "lenses", lens)
    holder = _holder(question, held)
    second = _second(question, held, holder)
    worn = Worn(
        lens=lens.id,
        behind=question.behind,
        holder=holder.id if holder else None,
        turn_deg=question.turn_deg,
        second_holder=second.id if second else None,
        second_turn_deg=question.second_turn_deg,
        shift_mm=question.shift_mm,
        hood=question.hood,
        front=FRONT if question.front else None,
    )
    for part in (holder, second):
        held = with_part(held, "holders", part) if part else held
    if question.front:
        held = with_part(held, "filters", Filter(id=FRONT, kind="polariser", round=True))
    ring = _ring(question, worn, held, lens, holder)
    if ring is not None:
        held = with_part(held, "rings", ring)
        worn = worn.model_copy(update={"ring": ring.id})
    _refuse(worn, held)
    return Asked(worn, held, lens, asked_sensor(question, kit), tuple(sorted(set(focal_mm))))


def rig_line(worn: Worn, kit: Kit) -> str:
    """The rig in words: its parts, their slots, and what is turned or shifted."""
    holders = [kit.holder(name) for name in (worn.holder, worn.second_holder) if name]
    slots = [f"{h.slots} slot{'s' * (h.slots != 1)}" for h in holders if h is not None]
    words = [build_rig(worn, kit).mount_words, " and ".join(slots)]
    if worn.turn_deg:
        words.append(f"holder turned {worn.turn_deg:g}°")
    if worn.second_turn_deg:
        words.append(f"second holder turned {worn.second_turn_deg:g}°")
    if worn.shift_mm is not None and any(worn.shift_mm):
        words.append(f"shifted {worn.shift_mm[0]:g} and {worn.shift_mm[1]:g} mm")
    return "; ".join(w for w in words if w) or "bare lens"


def with_part(kit: Kit, table: str, part: Lens | Ring | StepRing | Holder | Filter) -> Kit:
    """The kit with a part added, or in the place of the one that has its id."""
    others = tuple(p for p in getattr(kit, table) if p.id != part.id)
    return kit.model_copy(update={table: (*others, part)})


def _holder(question: Question, kit: Kit) -> Holder | None:
    if question.slots == 0:
        clash = next(
            (o for o, v in (("--holder", question.holder), ("--second", question.second)) if v), None
        )
        if clash or question.front:
            raise AuditError(f"--slots 0 means no holder; leave {clash or '--front'} out")
        return None
    if question.holder is None and len(kit.holders) > 1:
        raise AuditError(f"--holder: {known_ids('', kit.holders)}; name one, or {DEFAULT}")
    wanted = question.holder or next((h.id for h in kit.holders), DEFAULT)
    holder = _named_holder("--holder", wanted, kit)
    return holder.model_copy(update={"slots": question.slots}) if question.slots else holder


def _second(question: Question, kit: Kit, first: Holder | None) -> Holder | None:
    """A second one of the same kind is a part of its own."""
    if question.second is None:
        return None
    holder = _named_holder("--second", question.second, kit)
    if first is None or holder.id != first.id:
        return holder
    return holder.model_copy(update={"id": f"second {holder.id}"})


def _named_holder(option: str, wanted: str, kit: Kit) -> Holder:
    holder = kit.holder(wanted)
    if holder is None and wanted != DEFAULT:
        raise AuditError(f'{option}: "{wanted}" is not in the kit; {known_ids(wanted, kit.holders)}')
    return holder or DefaultHolder(id=DEFAULT, slots=DEFAULT_SLOTS, front_ring_mm=FRONT_RING_MM)


def _ring(question: Question, worn: Worn, kit: Kit, lens: Lens, holder: Holder | None) -> Ring | None:
    """The ring as named; else the kit's, or a standard one, for the thread at the end of the chain."""
    named = kit.ring(question.ring) if question.ring else None
    if named is not None:
        return named
    if question.ring not in (None, "standard", "recessed"):
        known = known_ids(question.ring or "", kit.rings)
        raise AuditError(f'--ring: "{question.ring}" is not in the kit; {known}, standard, recessed')
    if question.ring is None and holder is not None and holder.push_on_mm is not None:
        return None
    chain = threads(worn, kit)
    thread_mm = chain[-1][4] if chain else lens.thread_mm
    if thread_mm is None:
        raise AuditError(f'--thread: the kit gives lens "{lens.id}" none; give its filter thread in mm')
    kinds = [question.ring] if question.ring else ["standard", "recessed"]
    fitting = [r for kind in kinds for r in kit.rings if (r.thread_mm, r.kind) == (thread_mm, kind)]
    return (
        fitting[0]
        if fitting
        else Ring.model_validate({"id": kinds[0], "thread_mm": thread_mm, "kind": kinds[0]})
    )


def _refuse(worn: Worn, kit: Kit) -> None:
    """The rules of declared rigs hold for asked ones."""
    for fault in rig_faults(worn, kit):
        if fault.level == "error":
            raise AuditError(f"{OPTIONS.get(fault.key, '--' + fault.key)}: {fault.text}")
