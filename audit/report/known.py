"""Everything known of a frame, by where it came from: one running line a source, in the table's order."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
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
    "measure": marked("reckoned and predicted"),
    "estimate": marked("estimated"),
    "pixels": marked("measured in the pictures"),
    "print": marked("for prints"),
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
    )
)
"""Columns whose values are the photographer's or the camera's own words, which no language changes."""

UNITS = (marked("stop"), marked("byte"), marked("deg"), marked("fraction"), marked("mired"), marked("um"))
"""Units that are words."""


def everything(row: Mapping[str, Any], *, serials: bool = False) -> tuple[tuple[str, str], ...]:
    """(source, values) of one row; what is not known is left out, serial numbers unless `serials`."""
    found: dict[str, list[str]] = {}
    for column in shown_columns():
        value = row[column.name]
        if (column.private and not serials) or _empty(value):
            continue
        found.setdefault(column.step, []).append(_line(column, value))
    return tuple((SOURCES.get(step, step), joined(lines, "; ")) for step, lines in found.items())


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


def _line(column: Column, value: Any) -> str:
    """What a column is, and its value."""
    what = column_words(column)
    parts = [
        without_folders(part) if "/" in part or "\\" in part else part for part in column.kind.words(value)
    ]
    if column.name in NAMES:
        written = ", ".join(part or "\N{EN DASH}" for part in parts)
        return say("{what} {value_written}", what=what, value_written=written)
    shown = joined(parts, ", ")
    if column.unit and column.kind in (REAL, WHOLE):
        return say("{what} {value} {unit}", what=what, value=shown, unit=column.unit)
    return say("{what} {value}", what=what, value=shown)


def _without_folders(part: str) -> str:
    return without_folders(part) if "/" in part or "\\" in part else part
