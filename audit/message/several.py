"""Several names or phrases one after another, in words."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce

from audit.message.text import marked, say


def all_of(names: Sequence[str]) -> str:
    """`a and b`, of the photographer's own words."""
    return _row(names, marked("{first_name} and {last_name}"), marked("{names} and {last_name}"))


def one_of(names: Sequence[str]) -> str:
    """`a or b`, of the photographer's own words."""
    return _row(names, marked("{first_name} or {last_name}"), marked("{names} or {last_name}"))


def all_phrases(phrases: Sequence[str]) -> str:
    """`a and b`, of phrases that are translated."""
    return reduce(lambda one, other: say("{one} and {other}", one=one, other=other), phrases)


def _row(names: Sequence[str], two: str, more: str) -> str:
    """The names by a message for the first two and one for each that follows."""
    if len(names) < 2:
        return "".join(names)
    text = say(two, first_name=names[0], last_name=names[1])
    for name in names[2:]:
        text = say(more, names=text, last_name=name)
    return text
