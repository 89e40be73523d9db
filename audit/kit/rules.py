"""What the tables of a kit must not say between them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator

from audit.kit.kit import Body, Filter, Holder, Lens, Part, Ring, ScrewIn, StepRing
from audit.kit.named_rig import NamedRig, default_fault, named_rig_faults
from audit.message.text import marked, say
from audit.toml.fault import Fault

Placed = tuple[str, int, Part]
"""Table name, index in the file, and what it says."""


def folded(text: str) -> str:
    """Text as names are compared: without case and with single spaces."""
    return " ".join(text.split()).casefold()


def kit_faults(
    parts: list[Placed], line: dict[tuple[str, int], int], broken: Collection[tuple[str, str]] = ()
) -> Iterator[tuple[str, int, Fault]]:
    """Faults between the tables of a kit, and implausible dimensions.

    `line` is each table's header; `broken` are (table, id) of tables that are wrong in themselves.
    """
    yield from _same_id(parts, line)
    yield from _same_exif_name(parts, line)
    yield from _same_body(parts, line)
    yield from _rigs(parts, broken)
    for table, index, part in parts:
        for fault in _dimensions(part):
            yield table, index, fault


def _same_id(parts: list[Placed], line: dict[tuple[str, int], int]) -> Iterator[tuple[str, int, Fault]]:
    first: dict[tuple[str, str], tuple[str, int]] = {}
    for table, index, part in parts:
        key = "name" if isinstance(part, Body) else "id"
        name = getattr(part, key)
        if isinstance(part, NamedRig):  # once for each lens
            name = f"{name} on {part.lens}" if part.lens else name
        space = "behind" if table in ("step_ring", "screw_in") else table
        seen = first.setdefault((space, name), (table, index))
        if seen != (table, index):
            words = marked('"{name}" is taken by the [[{table_key}]] of line {line}; give each its own')
            yield table, index, Fault(key, say(words, name=name, table_key=seen[0], line=line[seen]))


def _same_exif_name(
    parts: list[Placed], line: dict[tuple[str, int], int]
) -> Iterator[tuple[str, int, Fault]]:
    first: dict[str, int] = {}
    for table, index, part in parts:
        if not isinstance(part, Lens):
            continue
        for item, name in enumerate(part.exif):
            seen = first.setdefault(folded(name), index)
            if seen != index:
                words = marked('"{name}" also names the lens of line {line}; each needs its own')
                yield table, index, Fault("exif", say(words, name=name, line=line[table, seen]), item=item)


def _same_body(parts: list[Placed], line: dict[tuple[str, int], int]) -> Iterator[tuple[str, int, Fault]]:
    first: dict[tuple[str, str | None], int] = {}
    bodies = [(i, p) for _, i, p in parts if isinstance(p, Body)]
    models = [folded(p.model) for _, p in bodies]
    for index, body in bodies:
        model = folded(body.model)
        if models.count(model) > 1 and body.serial is None:
            words = marked('is missing; two bodies are "{name}" and only it tells them apart')
            yield "body", index, Fault("serial", say(words, name=body.model))
            continue
        seen = first.setdefault((model, body.serial), index)
        if seen != index:
            text = say("is also that of the body of line {line}", line=line["body", seen])
            yield "body", index, Fault("serial", text)


def _rigs(parts: list[Placed], broken: Collection[tuple[str, str]]) -> Iterator[tuple[str, int, Fault]]:
    ids: dict[str, tuple[str, ...]] = defaultdict(tuple)
    for table, name in (*((table, getattr(part, "id", "")) for table, _, part in parts), *broken):
        ids[table] += (name,)
    for table, index, part in parts:
        if isinstance(part, NamedRig):
            for fault in named_rig_faults(part, ids):
                yield table, index, fault
        if isinstance(part, Lens) and part.rig is not None:
            for fault in default_fault(part.rig, ids):
                yield table, index, fault


def _dimensions(part: Part) -> Iterator[Fault]:
    if isinstance(part, Ring | ScrewIn) and part.bore_mm is not None and part.bore_mm > part.thread_mm:
        words = marked("{bore:g} is wider than the thread of {thread:g}")
        yield Fault("bore_mm", say(words, bore=part.bore_mm, thread=part.thread_mm), "warning")
    if (
        isinstance(part, StepRing)
        and part.bore_mm is not None
        and part.bore_mm > max(part.from_mm, part.to_mm)
    ):
        yield Fault("bore_mm", say("{bore:g} is wider than both threads", bore=part.bore_mm), "warning")
    if isinstance(part, Filter) and part.round and part.is_grad:
        words = marked("a round grad cannot be shifted; is it a round polariser?")
        yield Fault("round", words, "warning")
    if isinstance(part, Holder) and part.front_ring_thickness_mm is not None and part.front_ring_mm is None:
        words = marked("without front_ring_mm the holder has no front ring")
        yield Fault("front_ring_thickness_mm", words, "warning")
