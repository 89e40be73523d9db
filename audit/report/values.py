"""Everything that the table knows of some frames, what they share said once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import pandas as pd

from audit.message.text import joined, marked, say
from audit.report.words import without_folders
from audit.table import columns
from audit.table.column import REAL, WHOLE, Column

SOURCES = {
    "scan": marked("as the file has it"),
    "gear": marked("from the kit, else from open data"),
    "join": marked("declared"),
    "measure": marked("computed and predicted"),
    "estimate": marked("estimated"),
    "pixels": marked("measured in the pictures"),
    "print": marked("for prints"),
    "sidecar": marked("in a sidecar, by others"),
}
"""Words for the steps that fill the columns."""

LEFT_OUT = frozenset({"frame", "folder", "files", "copies", "notes", "problem", "rig", "corner"})
"""Columns that stand in the frame's own lines, and names that only this program reads."""

NAMES = frozenset(
    (
        "formats",
        "make",
        "model",
        "body_serial",
        "lens",
        "lens_serial",
        "captured_at",
        "exposure_time_ratio",
        "iso_source",
        "body",
        "lens_id",
        "declared_in",
        "filters",
        "ungasketed",
        "scene",
        "bracket",
        "clean_crop",
        "reference_frame",
        "sequence_of",
        "setup",
        "estimated_sets",
        "pair_with",
        "strength_filter",
        "stack",
        "sidecar",
        "sidecar_title",
        "sidecar_rights",
    )
)
"""Columns whose values are the photographer's or the camera's own words, which no language changes."""

UNITS = (marked("stop"), marked("byte"), marked("deg"), marked("fraction"), marked("mired"), marked("um"))
"""Units that are words."""

FRAMES_A_TABLE = 8
"""Columns of frames that stand side by side."""


@dataclass(frozen=True)
class ValueRow:
    """One column of the table: one value where all frames share it, else one a frame, "" where unknown."""

    name: str
    words: tuple[str, ...]
    written: bool
    """Whether the words are the photographer's or the camera's own, which no language changes."""


@dataclass(frozen=True)
class Values:
    """Some frames side by side; `groups` holds (how their values came about, rows)."""

    frames: tuple[str, ...]
    groups: tuple[tuple[str, tuple[ValueRow, ...]], ...]


def values(
    rows: Sequence[Mapping[str, Any]], names: Sequence[str], *, serials: bool = False
) -> tuple[Values, ...]:
    """What is known of these rows, FRAMES_A_TABLE of them a table; serial numbers only with `serials`."""
    starts = range(0, len(rows), FRAMES_A_TABLE)
    return tuple(
        Values(tuple(names[n : n + FRAMES_A_TABLE]), _groups(rows[n : n + FRAMES_A_TABLE], serials))
        for n in starts
    )


def _groups(rows: Sequence[Mapping[str, Any]], serials: bool) -> tuple[tuple[str, tuple[ValueRow, ...]], ...]:
    found: dict[str, list[ValueRow]] = {}
    for column in shown_columns():
        if column.private and not serials:
            continue
        told = tuple("" if _empty(v := row[column.name]) else _words(column, v) for row in rows)
        if any(told):
            words = told[:1] if len(set(told)) == 1 else told
            found.setdefault(column.step, []).append(
                ValueRow(column_words(column), words, column.name in NAMES)
            )
    return tuple((SOURCES.get(step, step), tuple(lines)) for step, lines in found.items())


def shown_columns() -> Iterator[Column]:
    """The columns that are told here."""
    return (c for c in columns.ALL if c.told and c.name not in LEFT_OUT)


def _empty(value: Any) -> bool:
    """Whether the cell is null; quicker than asking pandas, which tells the rest."""
    kind = type(value)
    if kind is float:
        return bool(value != value)
    if kind in (str, list, tuple):
        return not value
    if kind in (bool, int):
        return False
    return not len(value) if hasattr(value, "__len__") else bool(pd.isna(value))


@cache
def column_words(column: Column) -> str:
    """The column's name as words, without the unit at its end."""
    words = column.name.replace("_", " ")
    return words.removesuffix(f" {column.unit}").removesuffix(" stops") if column.unit else words


def _words(column: Column, value: Any) -> str:
    """A value with its unit."""
    parts = [_without_folders(part) for part in column.kind.words(value)]
    if column.name in NAMES:
        return ", ".join(part or "\N{EN DASH}" for part in parts)
    shown = joined(parts, ", ")
    if column.unit and column.kind in (REAL, WHOLE):
        return say("{value} {unit}", value=shown, unit=column.unit)
    return shown


def _without_folders(part: str) -> str:
    return without_folders(part) if "/" in part or "\\" in part else part
