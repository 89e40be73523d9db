"""Rigs that cannot be put together from the kit."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from itertools import pairwise

from audit.declare.worn import Worn
from audit.kit.kit import Filter, Holder, Kit, StepRing
from audit.message.text import figure, joined, marked, say
from audit.toml.fault import Fault, suggestion

TABLES: dict[str, tuple[str, ...]] = {
    "body": ("body",),
    "lens": ("lens",),
    "behind": ("step_ring", "screw_in"),
    "ring": ("ring",),
    "holder": ("holder",),
    "slots": ("filter",),
    "front": ("filter",),
    "second_holder": ("holder",),
    "second_slots": ("filter",),
    "hood": ("hood",),
}
"""Tables of the kit that each key of a span names ids of."""

WORDS = {
    "body": marked("body"),
    "lens": marked("lens"),
    "step_ring": marked("step ring"),
    "screw_in": marked("screw-in"),
    "ring": marked("ring"),
    "holder": marked("holder"),
    "filter": marked("filter"),
    "hood": marked("hood"),
}
"""Tables of the kit in words."""


def kit_ids(kit: Kit) -> dict[str, tuple[str, ...]]:
    """Ids of the kit by table; bodies go by their name."""
    found: dict[str, tuple[str, ...]] = {
        "body": tuple(body.name for body in kit.bodies),
        "lens": tuple(lens.id for lens in kit.lenses),
        "step_ring": tuple(part.id for part in kit.step_rings),
        "screw_in": tuple(part.id for part in kit.screw_ins),
        "ring": tuple(ring.id for ring in kit.rings),
        "holder": tuple(holder.id for holder in kit.holders),
        "filter": tuple(part.id for part in kit.filters),
        "hood": tuple(hood.id for hood in kit.hoods),
    }
    return found


def rig_faults(worn: Worn, kit: Kit, broken: Collection[tuple[str, str]] = ()) -> list[Fault]:
    """Unknown ids and impossible or doubtful rigs of one span.

    `broken` are (table, id) whose own table in the kit is wrong: named already, so not reported again.
    """
    return [
        *_unknown_ids(worn, kit, set(broken)),
        *_chain(worn, kit),
        *_lens_thread(worn, kit),
        *_holder(worn, kit, "holder", "slots"),
        *_holder(worn, kit, "second_holder", "second_slots"),
        *_front(worn, kit),
        *_polariser(worn, kit),
    ]


def _named(worn: Worn, key: str) -> list[tuple[int | None, str]]:
    value = getattr(worn, key)
    if isinstance(value, tuple):
        return [(item, name) for item, name in enumerate(value) if name]
    return [] if value is None else [(None, value)]


def _unknown_ids(worn: Worn, kit: Kit, broken: set[tuple[str, str]]) -> Iterator[Fault]:
    ids = kit_ids(kit)
    for key, tables in TABLES.items():
        if key == "body":
            continue
        known = [name for table in tables for name in ids[table]]
        known += sorted(name for table, name in broken if table in tables and name)
        for item, name in _named(worn, key):
            if name not in known:
                yield Fault(key, _unknown(name, tables, known, ids), item=item)


def _unknown(name: str, tables: tuple[str, ...], known: list[str], ids: dict[str, tuple[str, ...]]) -> str:
    if not known and not any(ids.values()):
        words = marked(
            '"{name}": there is no kit to look it up in; write kit.toml beside the pictures or give --kit'
        )
        return say(words, name=name)
    what, *more = (WORDS[table] for table in tables)
    what = say("{one} or {other}", one=what, other=more[0]) if more else what
    other = next((table for table, names in ids.items() if name in names), None)
    if other is not None:
        words = marked('"{name}" is a {other} of the kit, not a {what}')
        return say(words, name=name, other=WORDS[other], what=what)
    if not known:
        return say('"{name}" is not a {what} of the kit; it has none', name=name, what=what)
    hint = suggestion(name, known, marked("it has {known_key}"))
    return say('"{name}" is not a {what} of the kit; {hint}', name=name, what=what, hint=hint)


def threads(worn: Worn, kit: Kit) -> list[tuple[str, int | None, str, float, float]]:
    """The chain from the lens outwards: key, item, words, thread it screws into, thread it offers."""
    chain: list[tuple[str, int | None, str, float, float]] = []
    for item, name in enumerate(worn.behind):
        part = kit.between(name)
        if isinstance(part, StepRing):
            chain.append(("behind", item, say('step ring "{name}"', name=name), part.from_mm, part.to_mm))
        elif part is not None:
            what = say('screw-in "{name}"', name=name)
            chain.append(("behind", item, what, part.thread_mm, part.thread_mm))
    ring = kit.ring(worn.ring) if worn.ring else None
    if ring is not None:
        what = say('ring "{name}"', name=ring.id)
        chain.append(("ring", None, what, ring.thread_mm, ring.thread_mm))
    return chain


def _chain(worn: Worn, kit: Kit) -> Iterator[Fault]:
    chain = threads(worn, kit)
    for (_, _, before, _, offers), (key, item, what, needs, _) in pairwise(chain):
        if offers != needs:
            words = marked("{part} screws into {needs:g} mm, but {before} offers {offers:g} mm")
            yield Fault(key, say(words, part=what, needs=needs, before=before, offers=offers), item=item)


def _lens_thread(worn: Worn, kit: Kit) -> Iterator[Fault]:
    if worn.lens is not None:
        yield from thread_faults(worn, kit, worn.lens)
        return
    have = sorted({x.thread_mm for x in kit.lenses if x.thread_mm is not None})
    chain = threads(worn, kit)
    if chain and have and chain[0][3] not in have:
        key, item, what, needs, _ = chain[0]
        sizes = joined([figure(f"{size:g}") for size in have], ", ")
        words = marked("{part} screws into {needs:g} mm, but the lenses of the kit have {sizes} mm")
        yield Fault(key, say(words, part=what, needs=needs, sizes=sizes), item=item)


def thread_faults(worn: Worn, kit: Kit, lens_id: str) -> Iterator[Fault]:
    """The first part of the chain against the thread of a lens."""
    lens, chain = kit.lens(lens_id), threads(worn, kit)
    if lens is None or not chain:
        return
    key, item, what, needs, _ = chain[0]
    if lens.thread_mm is None:
        words = marked('{part} needs a thread, but the kit gives lens "{name}" no thread_mm')
        yield Fault(key, say(words, part=what, name=lens.id), item=item)
    elif lens.thread_mm != needs:
        words = marked('{part} screws into {needs:g} mm, but lens "{name}" has {thread:g} mm')
        text = say(words, part=what, needs=needs, name=lens.id, thread=lens.thread_mm)
        yield Fault(key, text, item=item)


def _holder(worn: Worn, kit: Kit, key: str, slots_key: str) -> Iterator[Fault]:
    name, slots = getattr(worn, key), getattr(worn, slots_key)
    holder = kit.holder(name) if name else None
    if holder is None:
        return
    if len(slots) > holder.slots:
        words = marked('{count} are named, but holder "{name}" has {slots} slots')
        yield Fault(slots_key, say(words, count=len(slots), name=holder.id, slots=holder.slots))
    if key == "holder" and worn.ring is None and holder.push_on_mm is None:
        words = marked('"{name}" needs a ring to sit on; name it with ring = ...')
        yield Fault(key, say(words, name=holder.id))
    for item, name in enumerate(slots):
        part = kit.filter(name) if name else None
        if part is not None:
            yield from _slot(part, holder, slots_key, item)


def _slot(part: Filter, holder: Holder, key: str, item: int) -> Iterator[Fault]:
    if part.round:
        words = marked('"{name}" is round and fits no slot; put it in front = ...')
        yield Fault(key, say(words, name=part.id), item=item)
    if (
        part.width_mm is not None
        and holder.clear_width_mm is not None
        and part.width_mm <= holder.clear_width_mm
    ):
        words = marked('"{name}" is {wide:g} mm wide, but the rails are {apart:g} mm apart')
        text = say(words, name=part.id, wide=part.width_mm, apart=holder.clear_width_mm)
        yield Fault(key, text, item=item)
    if part.gasket and item > 0:
        words = marked(
            '"{name}" has a gasket and belongs in the back slot, or light leaks in (common practice)'
        )
        yield Fault(key, say(words, name=part.id), "warning", item)


def _front(worn: Worn, kit: Kit) -> Iterator[Fault]:
    if worn.front is None or worn.holder is None:
        return
    holders = [h for h in (kit.holder(worn.holder), kit.holder(worn.second_holder or "")) if h is not None]
    if holders and all(holder.front_ring_mm is None for holder in holders):
        words = marked('holder "{name}" has no front ring; add front_ring_mm to the kit if it has')
        yield Fault("front", say(words, name=holders[0].id))
    part = kit.filter(worn.front)
    if part is not None and not part.round:
        words = marked('"{name}" is not round; the front ring takes a round filter (round = true)')
        yield Fault("front", say(words, name=part.id))


def _polariser(worn: Worn, kit: Kit) -> Iterator[Fault]:
    """A polariser in a slot turns with the holder, and so with the grads in it."""
    if worn.polariser_turn_deg is not None and not _polarisers(
        worn, kit, (*worn.slots, *worn.second_slots, worn.front or "")
    ):
        yield Fault("polariser_turn_deg", marked("no polariser is worn"))
    for key, slots, turn in (
        ("slots", worn.slots, worn.turn_deg),
        ("second_slots", worn.second_slots, worn.second_turn_deg),
    ):
        grads = [name for name in slots if (part := kit.filter(name)) is not None and part.is_grad]
        for item in _polarisers(worn, kit, slots) if grads else []:
            own = worn.polariser_turn_deg
            if own is not None and (own - (turn or 0.0)) % 360 != 0:
                words = marked(
                    'polariser "{name}" in a slot cannot turn independently of grad "{grad_name}"; '
                    "put it on the front ring"
                )
                yield Fault(key, say(words, name=slots[item], grad_name=grads[0]), item=item)
            elif own is None:
                words = marked(
                    'polariser "{name}" turns with grad "{grad_name}"; only the front ring frees it'
                )
                yield Fault(key, say(words, name=slots[item], grad_name=grads[0]), "warning", item)


def _polarisers(worn: Worn, kit: Kit, names: tuple[str, ...]) -> list[int]:
    parts = [kit.filter(name) if name else None for name in names]
    return [item for item, part in enumerate(parts) if part is not None and part.kind == "polariser"]
