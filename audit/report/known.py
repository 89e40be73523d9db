"""Everything known of a frame, by where it came from: one running line a source, in the table's order."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from audit.model.columns import ALL, Column
from audit.report.words import number, text, texts, without_folders

SOURCES = {
    "scan": "as the file has it",
    "gear": "from the kit, else from open data",
    "join": "declared",
    "measure": "reckoned and predicted",
    "estimate": "estimated",
    "pixels": "measured in the pictures",
    "print": "for prints",
}
"""Words for the steps that fill the columns."""

LEFT_OUT = frozenset({"frame", "folder", "files", "copies", "notes", "problem", "rig", "corner"})
"""Columns that stand in the frame's own lines, and names that only this program reads."""

SHOWN = tuple(c for c in ALL if c.kind != "bytes" and not c.withheld and c.name not in LEFT_OUT)


def everything(row: Mapping[str, Any], *, serials: bool = False) -> tuple[tuple[str, str], ...]:
    """(source, values) of one row; what is not known is left out, serial numbers unless `serials`."""
    found: dict[str, list[str]] = {}
    for column in SHOWN:
        value = row[column.name]
        if (column.private and not serials) or _empty(value):
            continue
        found.setdefault(column.step, []).append(f"{column_words(column)} {_value(column, value)}")
    return tuple((SOURCES.get(step, step), "; ".join(values)) for step, values in found.items())


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


def column_words(column: Column) -> str:
    """The column's name as words, without the unit at its end."""
    words = column.name.replace("_", " ")
    return words.removesuffix(f" {column.unit}").removesuffix(" stops") if column.unit else words


def _value(column: Column, value: Any) -> str:
    unit = f" {column.unit}" if column.unit and column.kind in ("real", "whole") else ""
    if column.kind == "real":
        shown = number(float(value), 3) if abs(value) != float("inf") else "no end"
        return f"{shown}{unit}"
    if column.kind == "whole":
        return f"{int(value)}{unit}"
    if column.kind == "flag":
        return "yes" if value else "no"
    if column.kind == "time":
        return pd.Timestamp(value).isoformat(" ")
    return ", ".join(texts(value)) if column.kind == "texts" else without_folders(text(value))
