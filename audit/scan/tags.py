"""Typed access to the tags of one file: text made harmless, numbers checked, a note for what is left out."""

from __future__ import annotations

import unicodedata
from fractions import Fraction
from math import isfinite
from typing import Any

from exifread.utils import Ratio

from audit.message.text import joined, marked, say
from audit.scan.note import About, Note

TEXT_LIMIT = 200  # characters of a text kept
_HARMFUL = {"Cc", "Cf", "Cs", "Co", "Zl", "Zp"}  # controls, direction marks, surrogates, line breaks


def harmless(text: str) -> str:
    """Text in which characters that could act on a terminal or a page are replaced by a visible mark."""
    if text.isascii() and text.isprintable():
        return text
    return "".join("\ufffd" if unicodedata.category(c) in _HARMFUL else c for c in text)


def clean_text(value: object) -> str | None:
    """Text of a tag without padding, at most `TEXT_LIMIT` characters; None where nothing is left."""
    if isinstance(value, bytes):
        value = value.split(b"\0", 1)[0].decode("utf-8", "backslashreplace")
    elif isinstance(value, list) and value and all(isinstance(v, int) and 0 <= v < 256 for v in value):
        return clean_text(bytes(value))  # text written as bytes
    if not isinstance(value, str):
        return None
    return harmless(value.strip(" \t\r\n\0")[:TEXT_LIMIT]).strip() or None


def as_fraction(value: Any) -> Fraction | None:
    """A finite number as a fraction; None for x/0, infinities and anything that is no number."""
    if isinstance(value, tuple) and value:  # the parser's way of giving floating-point values
        value = value[0]
    if value is None or isinstance(value, int):
        return None if value is None else Fraction(value)
    if isinstance(value, (Ratio, Fraction)):  # a ratio is a fraction that may have 0 below the line
        return value if value.denominator else None
    if isinstance(value, float):
        return Fraction(value).limit_denominator(1_000_000) if isfinite(value) else None
    return None


def in_range(number: Fraction, low: float, high: float) -> bool:
    """Whether low <= number <= high, exactly.

    Rounding keeps the order: what lies inside when rounded lies inside, and only at the ends the slow
    comparison of fractions has to decide.
    """
    return low < number.numerator / number.denominator < high or low <= number <= high


def as_written(value: Any) -> str:
    """A number as the file writes it, for a note."""
    if isinstance(value, tuple) and value:
        value = value[0]
    if isinstance(value, Ratio):
        return f"{value.num}/{value.den}" if value.den != 1 else str(value.num)
    return harmless(str(value))[:40]


LEFT_OUT, NOT_POSSIBLE = marked("left out"), marked("not possible, left out")


def left_out(why: str, done: str = LEFT_OUT, *, about: About = "value left out") -> Note:
    """The note for a value that enters no sum: why, a colon, and what was done with it."""
    return Note(joined([why, done], ": "), about)


def not_possible(what: str, written: str) -> Note:
    """The note for a value that cannot be; `written` is what stands in the file."""
    why = say("{what} is written as {value_written}", what=what, value_written=written)
    return left_out(why, NOT_POSSIBLE)


class Tags:
    """The tags of one file by name. `notes` collects what was left out, with the reason."""

    def __init__(self, values: dict[str, Any]) -> None:
        self.values = values
        self.notes: list[str] = []

    def first(self, *names: str) -> Any:
        """The value of the first of these tags that is there and not empty, else None."""
        for name in names:
            value = self.values.get(name)
            if value or (value is not None and value not in ([], "", b"")):
                return value
        return None

    def text(self, *names: str) -> str | None:
        """Text of the first of these tags that holds any."""
        for name in names:
            text = clean_text(self.values.get(name))
            if text is not None:
                return text
        return None

    def item(self, *names: str, index: int = 0) -> Any:
        """One item of a tag's list of values, else None."""
        value = self.values.get(names[0]) or self.first(*names)
        return value[index] if isinstance(value, list) and len(value) > index else None

    def fractions(self, *names: str, count: int) -> list[Fraction | None]:
        """The first items of a tag's list of values, None for each that is not there."""
        value = self.first(*names)
        listed = value[:count] if isinstance(value, list) else []
        return [*map(as_fraction, listed), *[None] * (count - len(listed))]

    def whole(self, *names: str) -> int | None:
        """Whole number of a tag, without a check of its range."""
        value = self.item(*names)
        if isinstance(value, int):
            return value
        number = as_fraction(value)
        return int(number) if number is not None else None

    def number(
        self, *names: str, what: str, low: float, high: float, zero: str | None = None, index: int = 0
    ) -> Fraction | None:
        """Number of a tag if it lies in [low, high]; else None and a note.

        `zero` is the note for a 0, where 0 has a meaning of its own ("" for no note at all).
        """
        raw = self.item(*names, index=index)
        if raw is None:
            return None
        number = as_fraction(raw)
        if number == 0 and zero is not None:
            if zero:
                self.notes.append(zero)
            return None
        if number is None or not in_range(number, low, high):
            self.notes.append(not_possible(what, as_written(raw)))
            return None
        return number
