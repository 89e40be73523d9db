"""Rows of plain data become a table with exactly the scan columns, each in its type."""

from __future__ import annotations

from typing import Any

import pandas as pd

from audit.table.columns import SCAN


def frame_table(rows: list[dict[str, Any]]) -> pd.DataFrame:
    """Table of the scan columns; what a row does not hold is null (an empty list in columns of lists)."""
    return pd.DataFrame({c.name: c.kind.series(row.get(c.name) for row in rows) for c in SCAN})


def passed_over_table(rows: list[tuple[str, str]]) -> pd.DataFrame:
    """Table of the files passed over: path and reason."""
    return pd.DataFrame(rows, columns=["path", "reason"]).astype("str")
