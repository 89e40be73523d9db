"""From a question in ids and numbers to a rig; default dimensions where the kit holds no such part."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from audit.corners.question import Question
from audit.declare.rig import Rig
from audit.declare.rig_rules import rig_faults, threads
from audit.declare.rigs import FRONT_RING_MM, DefaultHolder, build_rig
from audit.declare.worn import Worn
from audit.errors import AuditError
from audit.kit.kit import FOCAL_SLACK, Filter, Holder, Kit, Lens, Ring, StepRing
from audit.kit.pupil import BY_HAND
from audit.toml.fault import suggestion

USUAL_FOCAL_MM = (8, 10, 12, 14, 16, 18, 20, 24, 28, 35, 50, 70, 100, 135, 200, 300, 400)
"""Focal lengths of a zoom that are looked at unasked; common practice, no source."""


def asked_lens(question: Question, kit: Kit) -> Lens:
    """The kit's lens, or one made of numbers; its depth of pupil as asked. Raises AuditError."""
    if question.lens is None:
        return _lens_by_numbers(question, kit)
    lens = kit.lens(question.lens)
    if lens is None:
        raise AuditError(
            f'--lens: "{question.lens}" is not in the kit; {known_ids(question.lens, kit.lenses)}'
        )
    if question.thread_mm is not None and lens.thread_mm not in (None, question.thread_mm):
        raise AuditError(
            f'--thread: the kit gives lens "{lens.id}" {lens.thread_mm:g} mm; leave --thread out, or --lens'
        )
    _within(lens, question.focal_mm)
    changed = {"thread_mm": question.thread_mm or lens.thread_mm}
    return Lens.model_validate({**lens.model_dump(), **changed, **_depth(question, lens.pupil_depth_mm)})


def _lens_by_numbers(question: Question, kit: Kit) -> Lens:
    missing = [
        option
        for option, given in (
            ("--focal", question.focal_mm),
            ("--sensor", question.sensor_mm),
            ("--thread", question.thread_mm),
        )
        if not given
    ]
    if missing:
        ids = ", ".join(lens.id for lens in kit.lenses)
        named = f"--lens (the kit has {ids})" if ids else "--lens of a kit"
        raise AuditError(f"corners: give {named}, or the numbers; missing: {', '.join(missing)}")
    span = (min(question.focal_mm), max(question.focal_mm))
    return Lens.model_validate(
        {"id": "the lens", "thread_mm": question.thread_mm, "focal_mm": span, **_depth(question, None)}
    )


def _depth(question: Question, known_mm: float | None) -> dict[str, object]:
    """The depth of the pupil as asked, in place of all that the kit says of it."""
    if question.depth_mm is None:
        if question.depth_err_mm is None:
            return {}
        if known_mm is None:
            raise AuditError("--depth-err: needs --depth beside it")
        return {"pupil_depth_err_mm": question.depth_err_mm}
    unset: dict[str, object] = {**dict.fromkeys(BY_HAND), "calibrated": ()}
    return {**unset, "pupil_depth_mm": question.depth_mm, "pupil_depth_err_mm": question.depth_err_mm}


def usual_focal_mm(lens: Lens) -> tuple[float, ...]:
    """Focal lengths of a lens that are looked at unasked."""
    short, long = lens.focal_mm
    return tuple(sorted({short, *(float(f) for f in USUAL_FOCAL_MM if short < f < long), long}))


def _within(lens: Lens, focal_mm: Iterable[float]) -> None:
    short, long = lens.focal_mm
    for focal in focal_mm:
        if not short * (1 - FOCAL_SLACK) <= focal <= long * (1 + FOCAL_SLACK):
            reach = f"{short:g}" if short == long else f"{short:g} to {long:g}"
            raise AuditError(
                f'--focal: {focal:g} mm, but lens "{lens.id}" of the kit has {reach} mm; ask for these'
            )


def asked_sensor(question: Question, kit: Kit) -> tuple[float, float]:
    """The sensor as asked, or the only one among the kit's bodies; raises AuditError."""
    if question.sensor_mm is not None:
        return question.sensor_mm
    sizes = {body.sensor_mm: body.name for body in kit.bodies if body.sensor_mm is not None}
    if len(sizes) == 1:
        return next(iter(sizes))
    found = ", ".join(f"{name} {size[0]:g}x{size[1]:g}" for size, name in sizes.items())
    why = f"the kit's bodies differ ({found})" if sizes else "the kit gives no sensor_mm"
    raise AuditError(f"--sensor: {why}; give it in mm, like 36x24")


def known_ids(word: str, parts: Iterable[Lens | Ring | Holder]) -> str:
    """The nearest id, or all of them, for a message."""
    ids = [part.id for part in parts]
    return suggestion(word, ids, "it has {known_key}") if ids else "there is none in it"


DEFAULT_SLOTS = 2
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
