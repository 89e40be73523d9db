"""The one way to the terminal: characters that act on it are shown as escapes, whoever's words they are in.

Names of files, keys of a kit and arguments are other people's words; printed as they are, they could colour,
overwrite or hide what stands around them.
"""

from __future__ import annotations

import json
import os
import re
import sys
from collections.abc import Iterable
from contextlib import suppress
from typing import TYPE_CHECKING, Any, TextIO

from audit.errors import AuditError
from audit.message.shown import BYTES, acts, shown_line, shown_text

if TYPE_CHECKING:
    from rich.text import Text

UNUSUAL = re.compile(r"[^\n\r\t -~]")
"""In JSON; blanks between its strings stay."""


def out(text: str, nl: bool = True) -> None:
    """A result, of one line or more, to stdout."""
    _result(shown_text(text) + "\n" * nl)


def err(text: str, *, lines: bool = False) -> None:
    """A message to stderr, as one line; with `lines` its line ends are our own, and stay.

    Where nobody reads messages, none is missed: that it cannot be written is no failure.
    """
    with suppress(OSError):
        _write(sys.stderr, (shown_text(text) if lines else shown_line(text)) + "\n")


def as_json(value: Any) -> None:
    """A record, or a text that is JSON already, to stdout; it reads back as the same value everywhere.

    Only a byte of a file name that is not UTF-8, for which JSON has no word, is told as a report tells it.
    """
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False, indent=2)
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    _result(UNUSUAL.sub(lambda found: _in_json(found[0], encoding), text).rstrip("\n") + "\n")


def styled(lines: Iterable[Text], width: int) -> None:
    """Lines in colour to stdout; colour is left out in a pipe and where NO_COLOR is set."""
    from rich.console import Console

    console = Console(width=width, highlight=False)
    with console.capture() as caught:
        for line in lines:
            console.print(_plainly(line), soft_wrap=True)
    _result(caught.get())


def _plainly(line: Text) -> Text:
    """The line with its words escaped, each in the style it had."""
    from rich.text import Span, Text

    at = [0]
    for character in line.plain:
        at.append(at[-1] + len(shown_line(character)))
    spans = [Span(at[min(s.start, len(line))], at[min(s.end, len(line))], s.style) for s in line.spans]
    return Text(shown_line(line.plain), line.style, spans=spans, end=line.end)


def _in_json(character: str, encoding: str) -> str:
    """A character inside a string of JSON."""
    if ord(character) in BYTES:
        return json.dumps(shown_line(character))[1:-1]
    try:
        character.encode(encoding)
    except UnicodeEncodeError:
        return json.dumps(character)[1:-1]
    return _units(character) if acts(character) else character


def _units(character: str) -> str:
    r"""\uXXXX, twice where one does not hold the character; json leaves DEL as it is."""
    units = character.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[i]:02x}{units[i + 1]:02x}" for i in range(0, len(units), 2))


def _result(text: str) -> None:
    try:
        _write(sys.stdout, text)
    except OSError as error:
        raise AuditError(f"the output cannot be written ({error.strerror}); send it elsewhere") from None


def _write(stream: TextIO | None, text: str) -> None:
    """Writes all at once. A reader that went away is no failure, and the work goes on; a full disk is one."""
    if stream is None:  # closed before we began
        return
    try:
        encoding = stream.encoding or "utf-8"
        stream.write(text.encode(encoding, "backslashreplace").decode(encoding))
        stream.flush()
    except OSError as error:
        _forsake(stream)
        if not isinstance(error, BrokenPipeError):
            raise


def _forsake(stream: TextIO) -> None:
    """Leads the stream nowhere: what it still holds would be tried again at the end of the process."""
    with suppress(OSError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, stream.fileno())
        finally:
            os.close(nowhere)
