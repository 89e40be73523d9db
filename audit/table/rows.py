"""The rows of a table one by one, without a copy of each: a row knows its place and reads the columns."""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, overload

import pandas as pd

Cells = Sequence[Any]


class Row(Mapping[str, Any]):
    """One row. A null is NaN or NaT in columns that have it, else None."""

    __slots__ = ("_at", "_columns")

    def __init__(self, columns: Mapping[str, Cells], at: int) -> None:
        self._columns, self._at = columns, at

    def __getitem__(self, name: str) -> Any:
        return self._columns[name][self._at]

    def __iter__(self) -> Iterator[str]:
        return iter(self._columns)

    def __len__(self) -> int:
        return len(self._columns)


class Rows(Sequence[Row]):
    """All rows of a table in order."""

    def __init__(self, frames: pd.DataFrame) -> None:
        self._columns = {str(name): _cells(frames[name]) for name in frames}
        self._places = range(len(frames))

    @overload
    def __getitem__(self, at: int) -> Row: ...
    @overload
    def __getitem__(self, at: slice) -> list[Row]: ...
    def __getitem__(self, at: int | slice) -> Row | list[Row]:
        if isinstance(at, slice):
            return [Row(self._columns, place) for place in self._places[at]]
        return Row(self._columns, self._places[at])

    def __len__(self) -> int:
        return len(self._places)

    def __iter__(self) -> Iterator[Row]:
        return (Row(self._columns, place) for place in self._places)


def _cells(values: pd.Series) -> Cells:
    """The column as Python has it: numbers side by side in memory, a text that comes again only once."""
    if values.dtype == "float64":
        return array("d", values.to_numpy().tobytes())
    once: dict[str, str] = {}
    return [None if v is pd.NA else once.setdefault(v, v) if type(v) is str else v for v in values.tolist()]
