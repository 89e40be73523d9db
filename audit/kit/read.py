"""From kit.toml to the kit, with every mistake in it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from audit.disk.dumps import Dump, tops
from audit.errors import Mistake
from audit.kit.kit import Body, Filter, Holder, Hood, Kit, Lens, Part, Ring, ScrewIn, StepRing
from audit.kit.named_rig import NamedRig
from audit.kit.notes import kit_notes
from audit.kit.rules import Placed, kit_faults
from audit.kit.sense_place import out_of_range, place_faults
from audit.kit.where import Where
from audit.message.text import marked, say
from audit.toml.fault import Fault, suggestion
from audit.toml.file import TomlFile, read_toml
from audit.toml.wording import BRACKETS, UNKNOWN_KEY, faults

TABLES: dict[str, type[Part]] = {
    "body": Body,
    "lens": Lens,
    "ring": Ring,
    "step_ring": StepRing,
    "screw_in": ScrewIn,
    "holder": Holder,
    "filter": Filter,
    "hood": Hood,
    "rig": NamedRig,
}


@dataclass(frozen=True)
class KitRead:
    """The sound tables as a kit, the mistakes, and (table, id) of the tables that are not sound."""

    kit: Kit
    mistakes: tuple[Mistake, ...] = ()
    broken: frozenset[tuple[str, str]] = frozenset()
    whole: bool = True
    notes: tuple[Mistake, ...] = ()
    """What is worth knowing and no mistake, level "note"; none while there are mistakes."""


def find_kit(dump: Dump) -> Path | None:
    """kit.toml in the dump, beside it, or in the user's configuration directory; None where there is none."""
    return next((place for place in kit_places(dump) if place.is_file()), None)


def kit_places(dump: Dump) -> tuple[Path, ...]:
    """Where a kit.toml is looked for, the first place first: in every dump, then beside them."""
    config = os.environ.get("XDG_CONFIG_HOME") or ""
    base = Path(config) if Path(config).is_absolute() else Path("~/.config").expanduser()
    inside = [top / "kit.toml" for top in tops(dump)]
    beside = [top.absolute().parent / "kit.toml" for top in tops(dump)]
    return *inside, *dict.fromkeys(beside), base / "cornerstop" / "kit.toml"


def read_kit(path: Path | None, shown: str | None = None) -> KitRead:
    """Kit and mistakes, errors and warnings, sorted by line; `shown` is the path in messages."""
    if path is None:
        return KitRead(Kit())
    return kit_from(*read_toml(path, shown or str(path)))


def kit_from(file: TomlFile, mistakes: list[Mistake]) -> KitRead:
    """The same for TOML that was read, or could not be."""
    if mistakes:
        return KitRead(Kit(), tuple(mistakes), whole=False)
    mistakes += _top_level(file)
    where, wrong = _where(file)
    mistakes += [mistake for mistake in wrong if mistake.level != "note"]
    parts: list[Placed] = []
    broken: set[tuple[str, str]] = set()
    for table, index, raw in _tables(file):
        part, found = _part(table, raw)
        mistakes += [file.at(table, index, fault) for fault in found]
        if part is None:
            broken.add((table, _id(raw)))
        else:
            parts.append((table, index, part))
    heads = {(t, i): file.lines.get((t, i), 1) for t, i, _ in parts}
    found_between = kit_faults(parts, heads, broken, file.remark)
    mistakes += [file.at(table, index, fault) for table, index, fault in found_between]
    told = [mistake for mistake in wrong if mistake.level == "note"]
    notes = [] if mistakes else [*told, *(file.at(*noted) for noted in kit_notes(parts, heads))]
    kit = _kit(where, parts)
    return KitRead(kit, tuple(sorted(mistakes)), frozenset(broken), notes=tuple(sorted(notes)))


def _kit(where: Where, parts: list[Placed]) -> Kit:
    tables: dict[str, Any] = {table: tuple(p for t, _, p in parts if t == table) for table in TABLES}
    return Kit(**where.model_dump(), **tables)


def _where(file: TomlFile) -> tuple[Where, list[Mistake]]:
    """What the file says outside its tables, without the keys that are wrong."""
    said = {key: file.data[key] for key in Where.model_fields if key in file.data}
    try:
        where = Where.model_validate(said)
        doubts = place_faults(where)
        return where, [file.mistake((d.key,), d.key, d.text, d.level) for d in doubts]
    except ValidationError as error:
        wrong = faults(error, "", Where)
        over = out_of_range(said)
        texts = {fault.key: fault.text for fault in wrong}
        if over:
            texts["latitude_deg"] = say("{wrong}; {advice}", wrong=texts["latitude_deg"], advice=over)
        mistakes = [file.mistake((key,), key, text) for key, text in texts.items()]
        return Where(place=said["place"] if isinstance(said.get("place"), str) else None), mistakes


def _top_level(file: TomlFile) -> Iterator[Mistake]:
    known = [*Where.model_fields, *TABLES]
    for key, value in file.data.items():
        if key not in known:
            hint = suggestion(key, known, marked("a kit knows {known_key}"))
            yield file.mistake((key,), key, say(UNKNOWN_KEY, hint=hint))
        elif key in TABLES and not (isinstance(value, list) and all(isinstance(x, dict) for x in value)):
            yield file.mistake((key,), key, say(BRACKETS, table_key=key))


def _tables(file: TomlFile) -> Iterator[tuple[str, int, dict[str, Any]]]:
    for table in TABLES:
        value = file.data.get(table)
        if isinstance(value, list):
            for index, raw in enumerate(value):
                if isinstance(raw, dict):
                    yield table, index, raw


def _part(table: str, raw: dict[str, Any]) -> tuple[Part | None, list[Fault]]:
    model = TABLES[table]
    try:
        return model.model_validate(raw), []
    except ValidationError as error:
        return None, faults(error, table, model)


def _id(raw: dict[str, Any]) -> str:
    return str(raw.get("id", raw.get("name", "")))
