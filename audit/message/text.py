"""Sentences as data: English for tables and terminal, with what they are made of for any other language.

A `Text` is the English sentence and remembers its message and values; audit/report/language.py tells it in
another language from those. A message is a whole phrase with {placeholders}; docs/catalogue.py collects them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache

NAMES = frozenset({"name", "file", "frame", "folder", "path", "key", "written"})
"""Last word of a placeholder that holds the photographer's own words: never translated."""


@dataclass(frozen=True, slots=True)
class Message:
    """A phrase and its values; with `many` it is that of a count, which is the value n."""

    text: str
    values: Mapping[str, object]
    many: str = ""


@dataclass(frozen=True, slots=True)
class Phrases:
    """Texts side by side."""

    parts: tuple[str, ...]
    by: str


@dataclass(frozen=True, slots=True)
class Figure:
    """A number as it is written, with a decimal point where it has decimals."""

    text: str


Made = Message | Phrases | Figure | date


class Text(str):
    """English words; `made` is what they are made of, None for a phrase that is in the catalogue itself."""

    __slots__ = ("made",)
    made: Made | None

    def __new__(cls, words: str, made: Made | None = None) -> Text:
        """The words; without `made` they keep what they were made of."""
        text = super().__new__(cls, words)
        text.made = made_of(words) if made is None else made
        return text

    def __str__(self) -> str:
        return self


def made_of(text: str) -> Made | None:
    """What a text was made of; None for a plain one."""
    return text.made if isinstance(text, Text) else None


def marked(text: str) -> str:
    """The text itself; marks a phrase without values for the catalogue, where it is written down."""
    return text


def say(message: str, /, **values: object) -> str:
    """The message with its values, which are numbers, or texts that may be made here themselves."""
    return Text(message.format(**values), Message(message, values))


def plural(n: int, one: str, many: str, /, **values: object) -> str:
    """One of two messages by the count, which is their value {n}: "1 frame", "12 frames"."""
    shown = f"{n:,}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    return Text((one if n == 1 else many).format(n=shown, **values), Message(one, {"n": n, **values}, many))


def joined(parts: Iterable[str], by: str = "; ") -> str:
    """The texts that are not empty, side by side."""
    kept = tuple(part for part in parts if part)
    return kept[0] if len(kept) == 1 else Text(by.join(kept), Phrases(kept, by))


@lru_cache(maxsize=10_000)  # a report holds the same few numbers over and over
def figure(text: str) -> str:
    """A number that was formatted already."""
    return Text(text, Figure(text)) if "." in text else text


def day(at: date) -> str:
    """A day as ISO 8601 writes it; a time of day is left out."""
    return _day(at.date() if isinstance(at, datetime) else at)


@lru_cache(maxsize=10_000)
def _day(at: date) -> str:
    return Text(at.isoformat(), at)


def changed(text: str, change: Callable[[str], str]) -> str:
    """The text after `change`, made of parts that went through it too."""
    match made_of(text):
        case Message() as made:
            values = {k: changed(v, change) if isinstance(v, str) else v for k, v in made.values.items()}
            return Text(change(text), Message(made.text, values, made.many))
        case Phrases() as made:
            return Text(change(text), Phrases(tuple(changed(p, change) for p in made.parts), made.by))
        case made:
            return Text(change(text), made) if made else change(text)
