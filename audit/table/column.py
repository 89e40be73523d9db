"""What a column of the frame table is, and all that follows from its kind."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

import pandas as pd
import pyarrow as pa

from audit.message.figures import number
from audit.message.shown import writable
from audit.message.spreadsheet import disarmed
from audit.message.text import marked

Words = Callable[[Any], list[str]]
Dtype = Literal["str", "float64", "Int64", "boolean", "datetime64[us]", "object"]


def _same(values: Any) -> Any:
    return values


@dataclass(frozen=True, eq=False)
class Kind:
    """How one kind of value is kept in pandas (`dtype`) and in Arrow, written into CSV, and told to a reader.

    `cell` and `words` get a value that is not null; `words` gives one text, or several for a list. `to_dtype`
    makes a sequence fit the dtype, `to_arrow` a series of the dtype fit the Arrow type. Where a value mostly
    `repeats`, and two that are equal are written alike, each is written into CSV once.
    """

    name: str
    dtype: Dtype
    arrow: pa.DataType
    cell: Callable[[Any], str]
    words: Words
    repeats: bool = True
    to_dtype: Callable[[Any], Any] = _same
    to_arrow: Callable[[Any], Any] = _same

    def series(self, values: Iterable[Any], index: pd.Index | None = None) -> pd.Series:
        """The values as a column; None is null (an empty list in a column of lists)."""
        return pd.Series(self.to_dtype(list(values)), index=index, dtype=self.dtype)

    def array(self, values: pd.Series) -> pa.Array:
        """The column for Parquet; NaN, NaT and an empty text are null."""
        return pa.array(self.to_arrow(values.astype(self.dtype)), type=self.arrow, from_pandas=True)

    def cells(self, values: pd.Series) -> list[str]:
        """The column for CSV; null is an empty cell, and no spreadsheet takes a text for a formula."""
        kept = values.astype(self.dtype)
        null = kept.isna().tolist()
        cell = cache(self.cell) if self.repeats else self.cell
        return ["" if n else cell(v) for v, n in zip(kept.tolist(), null, strict=True)]


def _text(value: Any) -> str:
    return disarmed(writable(str(value)))


def _texts(value: Iterable[Any]) -> list[str]:
    return list(value)


def _sentences(values: Iterable[Any]) -> list[str | None]:
    return [value if isinstance(value, str) else None for value in values]


def _real(value: Any) -> list[str]:
    return [number(float(value), 3) if abs(value) != float("inf") else marked("no end")]


def _written(lists: Iterable[Iterable[Any] | None]) -> list[list[str]]:
    return [[writable(str(one)) for one in values or ()] for values in lists]


TEXT = Kind(
    "text",
    "str",
    pa.string(),
    cell=_text,
    words=lambda value: [value],
    to_arrow=lambda values: values.mask(values == ""),
)
WORDS = Kind(  # a sentence keeps what it was made of, which the str dtype of pandas would lose
    "words",
    "object",
    pa.string(),
    cell=_text,
    words=lambda value: [value],
    to_dtype=_sentences,
    to_arrow=lambda values: [
        writable(value) if isinstance(value, str) and value else None for value in values
    ],
)
REAL = Kind("real", "float64", pa.float64(), cell=repr, words=_real, repeats=False)
WHOLE = Kind("whole", "Int64", pa.int64(), cell=str, words=lambda value: [str(int(value))])
FLAG = Kind(
    "flag",
    "boolean",
    pa.bool_(),
    cell=lambda value: "true" if value else "false",
    words=lambda value: [marked("yes") if value else marked("no")],
)
TIME = Kind(
    "time",
    "datetime64[us]",
    pa.timestamp("us"),
    cell=lambda value: str(value.isoformat()),
    words=lambda value: [str(value)],
)
TEXTS = Kind(
    "texts",
    "object",
    pa.list_(pa.string()),
    cell=lambda value: _text("; ".join(map(str, value))),
    words=_texts,
    repeats=False,
    to_dtype=lambda lists: [list(values or ()) for values in lists],
    to_arrow=_written,
)
BYTES = Kind("bytes", "object", pa.binary(), cell=bytes.hex, words=lambda value: [], repeats=False)
KINDS = {kind.name: kind for kind in (TEXT, WORDS, REAL, WHOLE, FLAG, TIME, TEXTS, BYTES)}


@dataclass(frozen=True)
class Column:
    """One column; `step` fills it.

    `private` columns live in memory only; they are written when a flag asks. `withheld` ones never are,
    whatever a flag says, and nor are bytes.
    """

    name: str
    kind: Kind
    unit: str
    meaning: str
    step: str
    private: bool = False
    withheld: bool = False

    @property
    def told(self) -> bool:
        """Whether data files and the report may hold it."""
        return self.kind is not BYTES and not self.withheld


def missing(value: object) -> bool:
    """Whether a cell of the table holds nothing."""
    return value is None or value is pd.NA or value is pd.NaT or (isinstance(value, float) and value != value)
