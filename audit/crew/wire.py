"""What goes between the processes: plain data, and sentences with what they are made of; no code."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any

import msgpack

from audit.message.text import Figure, Message, Phrases, Text

MOST_BYTES = 1 << 28
"""Of one message."""
_HEAD_BYTES = 4
_TIME, _DAY, _TEXT, _MESSAGE, _PHRASES, _FIGURE = range(1, 7)
_HOW: Mapping[str, Any] = {"unicode_errors": "surrogatepass"}  # names of files are not always text


def packed(value: object) -> bytes:
    """A value as bytes. Raises TypeError for what is no plain data, as a tuple is not."""
    made: bytes = msgpack.packb(value, default=_special, strict_types=True, **_HOW)
    return made


def unpacked(data: bytes) -> Any:
    """The value of which `packed` made these bytes. Raises ValueError for any others."""
    try:
        return msgpack.unpackb(data, ext_hook=_known, **_HOW)
    except (ValueError, TypeError, LookupError, RecursionError) as error:
        raise ValueError("not as it was sent") from error


def send(descriptor: int, value: object) -> None:
    """Writes a message. Raises OSError where nobody is there to read it."""
    data = packed(value)
    rest = memoryview(len(data).to_bytes(_HEAD_BYTES, "big") + data)
    while rest:
        rest = rest[os.write(descriptor, rest) :]


def receive(descriptor: int) -> Any:
    """The next message. Raises EOFError where there is none any more, ValueError where it is none of ours."""
    length = int.from_bytes(read(descriptor, _HEAD_BYTES), "big")
    if length > MOST_BYTES:
        raise ValueError("longer than any message")
    return unpacked(read(descriptor, length))


def read(descriptor: int, length: int) -> bytes:
    """So many bytes. Raises EOFError where they end before."""
    parts = []
    while length and (part := os.read(descriptor, min(length, 1 << 20))):
        parts.append(part)
        length -= len(part)
    if length:
        raise EOFError
    return b"".join(parts)


def _special(value: object) -> object:
    match value:
        case datetime():
            return msgpack.ExtType(_TIME, value.isoformat().encode())
        case date():
            return msgpack.ExtType(_DAY, value.isoformat().encode())
        case Text():
            return msgpack.ExtType(_TEXT, packed([str.__str__(value), value.made]))
        case Message():
            return msgpack.ExtType(_MESSAGE, packed([value.text, dict(value.values), value.many]))
        case Phrases():
            return msgpack.ExtType(_PHRASES, packed([list(value.parts), value.by]))
        case Figure():
            return msgpack.ExtType(_FIGURE, packed(value.text))
        case float():  # numpy's is one
            return float(value)
    raise TypeError(f"{type(value).__name__} is no plain data")


def _known(code: int, data: bytes) -> object:
    try:
        return _MAKERS[code](data)
    except (AttributeError, LookupError, TypeError) as error:
        raise ValueError("no kind of ours") from error


def _text(data: bytes) -> Text:
    words, made = unpacked(data)
    if made is not None and not isinstance(made, (Message, Phrases, Figure, date)):
        raise TypeError
    return Text(_checked(words), made)


def _message(data: bytes) -> Message:
    text, values, many = unpacked(data)
    return Message(_checked(text), {_checked(name): value for name, value in values.items()}, _checked(many))


def _phrases(data: bytes) -> Phrases:
    parts, by = unpacked(data)
    return Phrases(tuple(map(_checked, parts)), _checked(by))


def _checked(text: Any) -> str:
    if not isinstance(text, str):
        raise TypeError
    return text


_MAKERS: Mapping[int, Callable[[bytes], object]] = {
    _TIME: lambda data: datetime.fromisoformat(data.decode()),
    _DAY: lambda data: date.fromisoformat(data.decode()),
    _TEXT: _text,
    _MESSAGE: _message,
    _PHRASES: _phrases,
    _FIGURE: lambda data: Figure(_checked(unpacked(data))),
}
