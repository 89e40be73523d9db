"""Everything known of a frame, by where it came from: one running line a source, in the table's order."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from audit.model.columns import ALL, Column
from audit.report.words import number, text, texts, without_folders
from audit.say import joined, marked, say

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

SHOWN = tuple(c for c in ALL if c.kind != "bytes" and not c.withheld and c.name not in LEFT_OUT)


def everything(row: Mapping[str, Any], *, serials: bool = False) -> tuple[tuple[str, str], ...]:
    """(source, values) of one row; what is not known is left out, serial numbers unless `serials`."""
    found: dict[str, list[str]] = {}
    for column in SHOWN:
        value = row[column.name]
        if (column.private and not serials) or _empty(value):
            continue
        found.setdefault(column.step, []).append(_line(column, value))
    return tuple((SOURCES.get(step, step), joined(lines, "; ")) for step, lines in found.items())


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


WORDS = {column.name: column_words(column) for column in SHOWN}


def _line(column: Column, value: Any) -> str:
    """What a column is, and its value."""
    what = WORDS[column.name]
    if column.name in NAMES:
        return say("{what} {value_written}", what=what, value_written=_named(column, value))
    shown = _value(column, value)
    if column.unit and column.kind in ("real", "whole"):
        return say("{what} {value} {unit}", what=what, value=shown, unit=column.unit)
    return say("{what} {value}", what=what, value=shown)


def _named(column: Column, value: Any) -> str:
    if column.kind == "time":
        return pd.Timestamp(value).isoformat(" ")
    if column.kind == "texts":
        return ", ".join(one or "\N{EN DASH}" for one in texts(value))
    return _shown(value)


def _value(column: Column, value: Any) -> str:
    if column.kind == "real":
        return number(float(value), 3) if abs(value) != float("inf") else marked("no end")
    if column.kind == "whole":
        return str(int(value))
    if column.kind == "flag":
        return marked("yes") if value else marked("no")
    return joined(texts(value), ", ") if column.kind == "texts" else _shown(value)


def _shown(value: Any) -> str:
    words = text(value)
    return without_folders(words) if "/" in words or "\\" in words else words
