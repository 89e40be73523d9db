"""Rows of plain data become a table with exactly the scan columns, each in its type."""

from __future__ import annotations

from typing import Any

import pandas as pd

from audit.model.columns import SCAN, Column

_DTYPES = {
    "text": "str",
    "real": "float64",
    "whole": "Int64",
    "flag": "boolean",
    "time": "datetime64[us]",
    "texts": "object",
    "bytes": "object",
}


def frame_table(rows: list[dict[str, Any]]) -> pd.DataFrame:
    """Table of the scan columns; what a row does not hold is null (an empty list in columns of lists)."""
    return pd.DataFrame({column.name: _series(column, rows) for column in SCAN})


def _series(column: Column, rows: list[dict[str, Any]]) -> pd.Series:
    values = [row.get(column.name) for row in rows]
    if column.kind == "texts":
        values = [list(value or []) for value in values]
    return pd.Series(values, dtype=_DTYPES[column.kind])


def passed_over_table(rows: list[tuple[str, str]]) -> pd.DataFrame:
    """Table of the files passed over: path and reason."""
    return pd.DataFrame(rows, columns=["path", "reason"]).astype("str")
