"""A row of `read_file` as bytes and back, for whoever keeps rows or hands them from process to process."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from audit.message.text import Text
from audit.scan.plain import from_bytes, to_bytes
from audit.table.columns import SCAN

Row = dict[str, Any]

_ALWAYS = frozenset({"formats", "problem", "notes"})
_TYPES: dict[str, tuple[type, ...]] = {
    "text": (str, Text),
    "words": (str, Text),
    "real": (float,),
    "whole": (int,),
    "flag": (bool,),
    "time": (datetime,),
    "texts": (list,),
    "bytes": (bytes,),
}
_COLUMNS = {column.name: _TYPES[column.kind.name] for column in SCAN}


def packed(row: Row) -> bytes:
    """The row as bytes. Raises TypeError where it holds anything that `read_file` does not give."""
    return to_bytes(row)


def unpacked(data: bytes) -> Row | None:
    """The row of which `packed` made these bytes; None where they are no row."""
    row = from_bytes(data)
    return row if row is not None and _is_row(row) else None


def _is_row(row: Row) -> bool:
    """Whether a row has columns of the scan alone, each with a value of its kind, and its notes are texts."""
    return (
        row.keys() >= _ALWAYS
        and all(value is None or type(value) in _COLUMNS.get(name, ()) for name, value in row.items())
        and isinstance(row["notes"], list)
        and all(isinstance(note, str) for note in row["notes"])
    )
