"""Frames that make one picture together: they count once where prints are chosen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import pandas as pd

from audit.message.text import marked

PANORAMA, BRACKET, STACK = marked("panorama"), marked("bracket"), marked("focus stack")


def set_of(row: Mapping[str, Any]) -> tuple[str, str] | None:
    """(kind, identity) of the stitched or blended set that a row belongs to; None for a frame alone.

    A panorama comes before the brackets that it is made of; frames declared as stitched are one panorama for
    each span and setup.
    """
    if row["stitched"] is True:
        return PANORAMA, f"{_text(row['declared_in'])} {_text(row['setup'])}"
    kind = _text(row["sequence"])
    if kind in (PANORAMA, BRACKET, STACK):
        return kind, _text(row["sequence_of"])
    bracket = _text(row["bracket"])
    return (BRACKET, bracket) if bracket else None


def grouped(rows: Iterable[Mapping[str, Any]]) -> dict[tuple[str, str], list[Mapping[str, Any]]]:
    """Rows by what they make, in the order of their first frames; a frame alone is ("", its name)."""
    found: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for row in rows:
        found.setdefault(set_of(row) or ("", _text(row["frame"])), []).append(row)
    return found


def _text(value: Any) -> str:
    return "" if value is None or pd.isna(value) else str(value)
