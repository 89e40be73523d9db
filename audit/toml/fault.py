"""A fault inside one table, before it is known which file and line the table has."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

from audit.message.text import say


@dataclass(frozen=True)
class Fault:
    """What is wrong at `key`; `item` is the place in the key's list, where it has one."""

    key: str
    text: str
    level: str = "error"
    item: int | None = None

    @property
    def place(self) -> str:
        """Key and item as `Declaration.lines` writes them: slots.1."""
        return self.key if self.item is None else f"{self.key}.{self.item}"


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known spelling closest to a word, or None where nothing is close."""
    by_fold = {k.casefold(): k for k in known}
    if word.casefold() in by_fold:
        return by_fold[word.casefold()]
    close = get_close_matches(word.casefold(), list(by_fold), n=1, cutoff=0.6)
    return by_fold[close[0]] if close else None


def suggestion(word: str, known: Iterable[str], otherwise: str, **values: object) -> str:
    """`did you mean "g2hard"?`, or the message `otherwise` with {known_key}, the list of what is known."""
    names = list(known)
    near = nearest(word, names)
    if near is not None:
        return say('did you mean "{name}"?', name=near)
    return say(otherwise, known_key=", ".join(names), **values)
