"""The rating in an XMP sidecar: standard XMP alone, read and never written.

The file is data of strangers: it is bounded, a document type (and so every entity) is refused, and nothing it
names is fetched.
"""

from __future__ import annotations

from math import isfinite
from xml.parsers import expat

from audit.message.text import marked, say

MOST_BYTES = 8_000_000
"""Sidecars with masks and histories reach a few MB; larger ones are not read."""
REJECTED = -1.0
_RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
_DESCRIPTION = [f"{_RDF} RDF", f"{_RDF} Description"]
_RATING = "http://ns.adobe.com/xap/1.0/ Rating"
_MOST_DIGITS = 16
_DEEPEST = 100


class NoXmpError(ValueError):
    """Bytes that are no XMP; the message says why."""


class _Search:
    """Follows the elements and keeps the first rating of the picture itself, not of a part or of its past."""

    def __init__(self) -> None:
        self.path: list[str] = []
        self.found: str | None = None
        self._words: list[str] | None = None

    def start(self, name: str, attributes: dict[str, str]) -> None:
        self.path.append(name)
        if len(self.path) > _DEEPEST:
            raise NoXmpError(marked("nested too deep"))
        if self.path[-2:] == _DESCRIPTION and not self._inside_other(2):
            self.found = self.found or attributes.get(_RATING)
        elif name == _RATING and self.path[-3:-1] == _DESCRIPTION and not self._inside_other(3):
            self._words = []

    def _inside_other(self, own: int) -> bool:
        """Whether the description lies in a property of another one."""
        return any(name == _DESCRIPTION[1] for name in self.path[:-own])

    def text(self, words: str) -> None:
        if self._words is not None and len(self._words) < _MOST_DIGITS:
            self._words.append(words)

    def end(self, name: str) -> None:
        self.path.pop()
        if name == _RATING and self._words is not None:
            self.found, self._words = self.found or "".join(self._words), None


def rating(data: bytes) -> float | None:
    """The xmp:Rating: 1 to 5, 0 unrated, -1 rejected (XMP specification, ISO 16684-1); None where none is.

    Raises NoXmpError for what is no XML, holds a document type, is nested too deep or is too large.
    A rating that is no number of that range counts as none.
    """
    if len(data) > MOST_BYTES:
        raise NoXmpError(say("larger than {megabytes} MB", megabytes=MOST_BYTES // 1_000_000))
    search, parser = _Search(), expat.ParserCreate(namespace_separator=" ")
    parser.StartDoctypeDeclHandler = _refuse
    parser.StartElementHandler = search.start
    parser.EndElementHandler = search.end
    parser.CharacterDataHandler = search.text
    try:
        parser.Parse(data, True)
    except (expat.ExpatError, UnicodeError, LookupError) as error:
        raise NoXmpError(say("no XML ({reason_written})", reason_written=str(error))) from None
    return _number(search.found)


def _refuse(*_: object) -> None:
    raise NoXmpError(marked("holds a document type, which XMP has not"))


def _number(words: str | None) -> float | None:
    try:
        value = float((words or "").strip()[:_MOST_DIGITS])
    except ValueError:
        return None
    return value if isfinite(value) and (value == REJECTED or 0 <= value <= 5) else None
