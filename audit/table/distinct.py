"""Rows that are alike in some columns: what follows from these is found once, and given to each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.table.columns import BY_NAME

Numbers = NDArray[np.intp]


def alike(columns: Iterable[pd.Series]) -> Numbers:
    """For each row the number of its combination of cells, from 0 in order of first rows.

    Nothing written is like nothing written. There is at least one column.
    """
    number: Numbers | None = None
    for column in columns:
        codes = pd.factorize(column)[0]
        both = codes if number is None else number * (codes.max(initial=0) + 2) + codes
        number = pd.factorize(both)[0]
    assert number is not None
    return number


def first_rows(number: Numbers) -> Numbers:
    """The first row of each number."""
    return np.unique(number, return_index=True)[1]


def spread(frames: pd.DataFrame, values: Mapping[str, Iterable[Any]], number: Numbers) -> pd.DataFrame:
    """The table with these columns, each in its type: a row has the value of its number.

    Raises KeyError for a column that is not declared.
    """
    made = {name: BY_NAME[name].kind.series(some).take(number) for name, some in values.items()}
    return frames.assign(**{name: column.set_axis(frames.index) for name, column in made.items()})
