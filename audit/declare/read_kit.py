"""From kit.toml to the kit, with every mistake in it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from audit.declare.fault import Fault, suggestion
from audit.declare.kit_rules import Placed, kit_faults
from audit.declare.toml_file import TomlFile, read_toml
from audit.declare.wording import faults, shown
from audit.model.kit import Body, Filter, Holder, Hood, Kit, Lens, Part, Ring, ScrewIn, StepRing
from audit.model.mistake import Mistake

TABLES: dict[str, type[Part]] = {
    "body": Body,
    "lens": Lens,
    "ring": Ring,
    "step_ring": StepRing,
    "screw_in": ScrewIn,
    "holder": Holder,
    "filter": Filter,
    "hood": Hood,
}


@dataclass(frozen=True)
class KitRead:
    """The sound tables as a kit, the mistakes, and (table, id) of the tables that are not sound."""

    kit: Kit
    mistakes: tuple[Mistake, ...] = ()
    broken: frozenset[tuple[str, str]] = frozenset()
    whole: bool = True


def find_kit(dump: Path) -> Path | None:
    """kit.toml in the dump, beside it, or in the user's configuration directory; None where there is none."""
    config = os.environ.get("XDG_CONFIG_HOME") or ""
    base = Path(config) if Path(config).is_absolute() else Path("~/.config").expanduser()
    places = (dump / "kit.toml", dump.absolute().parent / "kit.toml", base / "cornerstop" / "kit.toml")
    return next((place for place in places if place.is_file()), None)


def read_kit(path: Path | None, shown: str | None = None) -> KitRead:
    """Kit and mistakes, errors and warnings, sorted by line; `shown` is the path in messages."""
    if path is None:
        return KitRead(Kit())
    file, mistakes = read_toml(path, shown or str(path))
    if mistakes:
        return KitRead(Kit(), tuple(mistakes), whole=False)
    mistakes += _top_level(file)
    parts: list[Placed] = []
    broken: set[tuple[str, str]] = set()
    for table, index, raw in _tables(file):
        part, wrong = _part(table, raw)
        mistakes += [file.at(table, index, fault) for fault in wrong]
        if part is None:
            broken.add((table, _id(raw)))
        else:
            parts.append((table, index, part))
    heads = {(t, i): file.lines.get((t, i), 1) for t, i, _ in parts}
    mistakes += [file.at(table, index, fault) for table, index, fault in kit_faults(parts, heads)]
    return KitRead(_kit(file, parts), tuple(sorted(mistakes)), frozenset(broken))


def _kit(file: TomlFile, parts: list[Placed]) -> Kit:
    tables: dict[str, Any] = {table: tuple(p for t, _, p in parts if t == table) for table in TABLES}
    place = file.data.get("place")
    return Kit(place=place if isinstance(place, str) else None, **tables)


def _top_level(file: TomlFile) -> Iterator[Mistake]:
    known = ["place", *TABLES]
    for key, value in file.data.items():
        if key not in known:
            yield file.mistake((key,), key, f"unknown table or key; {suggestion(key, known, 'a kit knows')}")
        elif key == "place" and not isinstance(value, str):
            yield file.mistake((key,), key, f"should be text in quotes, not {shown(value)}")
        elif key in TABLES and not (isinstance(value, list) and all(isinstance(x, dict) for x in value)):
            yield file.mistake((key,), key, f"is a list of tables; write [[{key}]] with double brackets")


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
