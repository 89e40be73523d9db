"""Everything that the table knows of some frames, what they share said once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache, partial
from typing import Any, NamedTuple

import pandas as pd

from audit.message.text import joined, marked, say
from audit.report.words import without_folders
from audit.table import columns
from audit.table.column import FLAG, REAL, TEXT, WHOLE, WORDS, Column

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
KEPT_VALUES = 1000
"""Values of one column whose words stay in memory."""


class ValueRow(NamedTuple):
    """One column of the table: one value where all frames share it, else one a frame, "" where unknown."""

    name: str
    words: tuple[str, ...]
    span: int
    """Frames that one value spans, 0 for one a frame."""
    written: bool
    """Whether the words are the photographer's or the camera's own, which no language changes."""


@dataclass(frozen=True)
class Values:
    """Some frames side by side; `groups` holds (how their values came about, rows)."""

    frames: tuple[str, ...]
    groups: tuple[tuple[str, tuple[ValueRow, ...]], ...]


def values(
    rows: Sequence[Mapping[str, Any]], names: Sequence[str], columns: Sequence[Told]
) -> tuple[Values, ...]:
    """What is known of these rows in the columns, FRAMES_A_TABLE rows a table."""
    starts = range(0, len(rows), FRAMES_A_TABLE)
    return tuple(
        Values(tuple(names[n : n + FRAMES_A_TABLE]), _groups(rows[n : n + FRAMES_A_TABLE], columns))
        for n in starts
    )


def _groups(
    rows: Sequence[Mapping[str, Any]], columns: Sequence[Told]
) -> tuple[tuple[str, tuple[ValueRow, ...]], ...]:
    found: dict[str, list[ValueRow]] = {}
    for column in columns:
        told = column.told([row[column.name] for row in rows])
        if any(told):
            span = len(rows) if len(told) < len(rows) else 0
            found.setdefault(column.step, []).append(ValueRow(column.words, told, span, column.written))
    return tuple((step, tuple(lines)) for step, lines in found.items())


class Told:
    """One column of the table, its values in words; a number is put in words once."""

    def __init__(self, column: Column) -> None:
        self.name, self.words, self.step = column.name, column_words(column), SOURCES[column.step]
        self.written = column.name in NAMES
        tell = partial(_words, column)
        self._tell = lru_cache(KEPT_VALUES)(tell) if column.kind in (REAL, WHOLE, FLAG) else tell

    def told(self, cells: list[Any]) -> tuple[str, ...]:
        """Cells with their unit, "" where one is null; a single text where all are told alike."""
        if cells.count(cells[0]) == len(cells):
            return (self._of(cells[0]),)
        told = tuple(map(self._of, cells))
        return told[:1] if told.count(told[0]) == len(told) else told

    def _of(self, value: Any) -> str:
        return "" if value != value or _empty(value) else self._tell(value)


def told_columns(frames: pd.DataFrame, *, serials: bool = False) -> tuple[Told, ...]:
    """The columns in which a row of the table holds something; serial numbers only with `serials`."""
    columns = (c for c in shown_columns() if (serials or not c.private) and frames[c.name].notna().any())
    return tuple(map(Told, columns))


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
    if column.kind in (TEXT, WORDS):
        return _without_folders(value)
    parts = [_without_folders(part) for part in column.kind.words(value)]
    if column.name in NAMES:
        return ", ".join(part or "\N{EN DASH}" for part in parts)
    shown = joined(parts, ", ")
    if column.unit and column.kind in (REAL, WHOLE):
        return say("{value} {unit}", value=shown, unit=column.unit)
    return shown


def _without_folders(part: str) -> str:
    return without_folders(part) if "/" in part or "\\" in part else part
