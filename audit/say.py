"""English words, put together so that a report can put them together again in another language.

Tables and data files hold plain English, in every run. While a book is open (`noting`), it keeps for each
text made here the message and the values it was made of; audit/report/language.py tells the text from
those. A message is a whole phrase with {placeholders}; docs/catalogue.py collects them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime

NAMES = frozenset({"name", "file", "frame", "folder", "path", "key", "written"})
"""Last word of a placeholder that holds the photographer's own words: never translated."""


@dataclass(frozen=True)
class Message:
    """A phrase and its values; with `many` it is that of a count, which is the value n."""

    text: str
    values: Mapping[str, object]
    many: str = ""


@dataclass(frozen=True)
class Joined:
    """Texts side by side."""

    parts: tuple[str, ...]
    by: str


@dataclass(frozen=True)
class Figure:
    """A number as it is written, with a decimal point where it has decimals."""

    text: str


Made = Message | Joined | Figure | date
Book = dict[str, Made]

_open: list[Book] = []


@contextmanager
def noting() -> Iterator[Book]:
    """A book that keeps how each text is made until the block ends."""
    book: Book = {}
    _open.append(book)
    try:
        yield book
    finally:
        _open.pop()


def marked(text: str) -> str:
    """The text itself; marks a phrase without values for the catalogue, where it is written down."""
    return text


def say(message: str, /, **values: object) -> str:
    """The message with its values, which are numbers, or texts that may be made here themselves."""
    text = message.format(**values)
    if not _open or any(isinstance(value, str) and value == text for value in values.values()):
        return text
    return _note(text, Message(message, values))


def plural(n: int, one: str, many: str, /, **values: object) -> str:
    """One of two messages by the count, which is their value {n}: "1 frame", "12 frames"."""
    shown = f"{n:,}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    text = (one if n == 1 else many).format(n=shown, **values)
    return _note(text, Message(one, {"n": n, **values}, many)) if _open else text


def joined(parts: Iterable[str], by: str = "; ") -> str:
    """The texts that are not empty, side by side."""
    kept = tuple(part for part in parts if part)
    text = by.join(kept)
    return _note(text, Joined(kept, by)) if _open and len(kept) > 1 else text


def figure(text: str) -> str:
    """A number that was formatted already."""
    return _note(text, Figure(text)) if _open and "." in text else text


def day(at: date) -> str:
    """A day as ISO 8601 writes it; a time of day is left out."""
    found = at.date() if isinstance(at, datetime) else at
    return _note(found.isoformat(), found) if _open else found.isoformat()


def _note(text: str, made: Made) -> str:
    for book in _open:
        book.setdefault(text, made)
    return text
