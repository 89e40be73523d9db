"""What the tables of a kit must not say between them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator

from audit.kit.kit import Body, Lens, Part
from audit.kit.named_rig import NamedRig, default_fault, named_rig_faults
from audit.kit.readings import LABELS
from audit.kit.sense import rail_faults, size_faults
from audit.kit.sense_place import clock_faults
from audit.kit.sense_strength import strength_faults
from audit.kit.sense_threads import thread_faults
from audit.kit.strength import Strength
from audit.message.text import marked, say
from audit.toml.fault import Fault

Placed = tuple[str, int, Part]
"""Table name, index in the file, and what it says."""


def folded(text: str) -> str:
    """Text as names are compared: without case and with single spaces."""
    return " ".join(text.split()).casefold()


Remark = Callable[[str, int, str], str]
"""The comment beside a key of a table, as the photographer wrote it; empty where there is none."""


def no_remark(table: str, index: int, key: str) -> str:
    """Where the text of the file is not at hand."""
    return ""


def kit_faults(
    parts: list[Placed],
    line: dict[tuple[str, int], int],
    broken: Collection[tuple[str, str]] = (),
    remark: Remark = no_remark,
) -> Iterator[tuple[str, int, Fault]]:
    """Faults between the tables of a kit, and implausible values.

    `line` is each table's header; `broken` are (table, id) of tables that are wrong in themselves.
    """
    yield from _same_id(parts, line)
    yield from _same_exif_name(parts, line)
    yield from _same_body(parts, line)
    yield from _rigs(parts, broken)
    yield from thread_faults(parts, not broken)
    yield from rail_faults(parts)
    strengths = [part for _, _, part in parts if isinstance(part, Strength)]
    for table, index, part in parts:
        for fault in _sense(table, index, part, remark, strengths):
            yield table, index, fault


def _sense(table: str, index: int, part: Part, remark: Remark, strengths: list[Strength]) -> Iterator[Fault]:
    """What is implausible in one table alone."""
    yield from size_faults(table, part)
    if isinstance(part, Strength):
        words = " ".join(remark(table, index, key) for key in LABELS)
        yield from strength_faults(part, words, [other for other in strengths if other is not part])
    if isinstance(part, Body):
        yield from clock_faults(part, remark(table, index, "clock_ahead_s"))


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
