"""Values as bytes and back: JSON, and behind it what is bytes itself. Plain data only, nothing that acts.

A sentence keeps what it is made of, a note what it is about.
"""

from __future__ import annotations

import json
from datetime import date, datetime
from typing import Any, get_args

from audit.message.text import Figure, Made, Message, Phrases, Text
from audit.scan.note import About, Note

_COUNT_BYTES = 4
_FAULTS = (ValueError, TypeError, AttributeError, LookupError, RecursionError, MemoryError)


def to_bytes(values: dict[str, Any]) -> bytes:
    """Values by name as bytes. Raises TypeError where one is of no kind that is known here."""
    held: list[bytes] = []
    head = json.dumps({name: _plain(value, held) for name, value in values.items()}).encode()
    return b"".join((len(head).to_bytes(_COUNT_BYTES, "big"), head, *held))


def from_bytes(data: bytes) -> dict[str, Any] | None:
    """The values of which `to_bytes` made these bytes, tuples as lists; None where it made none of them."""
    try:
        start = _COUNT_BYTES + int.from_bytes(data[:_COUNT_BYTES], "big")
        told = json.loads(data[_COUNT_BYTES:start])
        reader = _Reader(data, start)
        found = {name: reader.value(one) for name, one in told.items()}
    except _FAULTS:
        return None
    return found if reader.start == len(data) else None


def _plain(value: object, held: list[bytes]) -> Any:
    """A value as JSON has it; what JSON has no word for is a list that begins with one of ours."""
    match value:
        case Note():
            return ["note", str.__str__(value), value.about, _plain(value.made, held)]
        case Text():
            return ["text", str.__str__(value), _plain(value.made, held)]
        case None | bool() | int() | float() | str():
            return value
        case bytes():
            held.append(value)
            return ["bytes", len(value)]
        case datetime():
            return ["time", value.isoformat()]
        case date():
            return ["day", value.isoformat()]
        case list() | tuple():
            return ["list", *(_plain(one, held) for one in value)]
        case Message():
            told = {name: _plain(one, held) for name, one in value.values.items()}
            return ["message", value.text, value.many, told]
        case Phrases():
            return ["phrases", value.by, *(_plain(part, held) for part in value.parts)]
        case Figure():
            return ["figure", value.text]
    raise TypeError(type(value).__name__)


class _Reader:
    """Values from their plain form. Every method raises one of the faults that `from_bytes` catches."""

    def __init__(self, data: bytes, start: int) -> None:
        self._data, self.start = data, start

    def value(self, plain: Any) -> Any:
        """The value, of any kind that a row may hold."""
        if not isinstance(plain, list):
            if isinstance(plain, dict):
                raise TypeError
            return plain
        match plain:
            case ["note", str(words), about, made] if about in get_args(About):
                note = Note(words, about)
                note.made = self._made(made)
                return note
            case ["text", str(words), made]:
                return Text(words, self._made(made))
            case ["bytes", int(count)] if count >= 0:
                self.start += count
                return self._data[self.start - count : self.start]
            case ["time", str(iso)]:
                return datetime.fromisoformat(iso)
            case ["list", *parts]:
                return [self.value(part) for part in parts]
        raise ValueError

    def _made(self, plain: Any) -> Made | None:
        match plain:
            case None:
                return None
            case ["message", str(text), str(many), dict(values)]:
                return Message(text, {name: self.value(one) for name, one in values.items()}, many)
            case ["phrases", str(by), *parts]:
                return Phrases(tuple(self._text(part) for part in parts), by)
            case ["figure", str(text)]:
                return Figure(text)
            case ["day", str(iso)]:
                return date.fromisoformat(iso)
        raise ValueError

    def _text(self, plain: Any) -> str:
        text = self.value(plain)
        if not isinstance(text, str):
            raise TypeError
        return text
