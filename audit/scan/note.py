"""A note on a file: words for the reader, and what it is about for the program."""

from __future__ import annotations

from typing import Literal

from audit.message.text import Text, made_of

About = Literal[
    "", "damage", "second try", "value left out", "no contacts", "picture size", "sensor size left out"
]
LEFT_OUT = frozenset({"value left out", "no contacts", "sensor size left out"})
"""Notes on a value that enters no sum."""
OF_SIZE = frozenset({"picture size", "sensor size left out"})
"""Notes on the size of the picture, or what was reckoned from it."""


class Note(Text):
    """The words of a note; `about` is "" for a plain text."""

    __slots__ = ("about",)
    about: About

    def __new__(cls, words: str, about: About = "") -> Note:
        """A text that knows what it is about."""
        note = str.__new__(cls, words)
        note.made, note.about = made_of(words), about
        return note


def about(note: str) -> About:
    """What a note is about."""
    return note.about if isinstance(note, Note) else ""
