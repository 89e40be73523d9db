"""A fault inside one table, before it is known which file and line the table has."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches


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


def suggestion(word: str, known: Iterable[str], otherwise: str) -> str:
    """`did you mean "g2hard"?`, or the list of what is known."""
    names = list(known)
    near = nearest(word, names)
    if near is not None:
        return f'did you mean "{near}"?'
    return f"{otherwise} {', '.join(names)}" if names else otherwise
