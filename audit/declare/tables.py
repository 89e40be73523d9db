"""Columns of the kinds the frame table has."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd


def text_column(values: Sequence[str | None], index: pd.Index) -> pd.Series:
    """Text, missing where None."""
    return pd.Series(list(values), index=index, dtype="str")


def real_column(values: Sequence[float | None], index: pd.Index) -> pd.Series:
    """Numbers, NaN where None."""
    return pd.Series([float("nan") if v is None else v for v in values], index=index, dtype="float64")


def list_column(values: Sequence[Sequence[str]], index: pd.Index) -> pd.Series:
    """A list of texts in each row."""
    return pd.Series([list(v) for v in values], index=index, dtype="object")


def flag_column(values: Sequence[bool | None], index: pd.Index) -> pd.Series:
    """Yes or no in each row, missing where None."""
    return pd.Series(list(values), index=index, dtype="boolean")
