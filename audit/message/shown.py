"""File names and texts as they may be shown and written, whatever bytes they hold."""

from __future__ import annotations

import os
import re
import unicodedata

from audit.message.text import changed

BYTES = range(0xDC80, 0xDD00)
"""What a byte of a file name becomes that is not UTF-8."""
_HALVES = re.compile("[\ud800-\udfff]")


def shown_name(name: str) -> str:
    """A file name as text: bytes that are not UTF-8, and characters that act on a terminal, as escapes."""
    return name if name.isprintable() else changed(name, _shown_name)


def _shown_name(name: str) -> str:
    try:
        text = os.fsencode(name).decode("utf-8", "backslashreplace")
    except (
        UnicodeEncodeError
    ):  # half a character that no file name can hold, or one that this system's cannot
        text = name
    return _shown_line(text)


def alike(name: str) -> str:
    """What all spellings of a name have in common: either case, accents as one character or as two."""
    if name.isascii():
        return name.casefold()
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


LONG_WORD, LONG_TEXT = 60, 1_000
"""Characters; what is longer was not written to be read."""
_TOO_LONG = re.compile(rf"\S{{{LONG_WORD + 1},}}")


def brief(text: str) -> str:
    """A text as `shown_name` has it; what is too long to be read is cut."""
    shown = shown_name(text)
    return shown if len(shown) <= LONG_WORD else changed(shown, _cut)


def _cut(text: str) -> str:
    cut = _TOO_LONG.sub(lambda word: word[0][: LONG_WORD - 3] + "...", text)
    return cut if len(cut) <= LONG_TEXT else cut[: LONG_TEXT - 3] + "..."


def shown_line(text: str) -> str:
    """A text as one line: line ends and tabs as escapes too, besides all that acts on a terminal."""
    return text if text.isprintable() else changed(text, _shown_line)


def _shown_line(text: str) -> str:
    return "".join(_escape(c) if acts(c) else c for c in text)


def shown_text(text: str) -> str:
    """A text of several lines: line ends (each as one newline) and tabs stay, all else is as in a line."""
    text = text.replace("\r\n", "\n")
    return "".join(_escape(c) if acts(c) and c not in "\n\t" else c for c in text)


def acts(character: str) -> bool:
    """Whether a character does something in a terminal instead of being seen, or is none that can be seen."""
    return unicodedata.category(character)[0] == "C" or character in "\u2028\u2029"


def writable(text: str) -> str:
    """The text as UTF-8 can hold it: bytes of a name that is not UTF-8 become \\xNN, nothing else changes."""
    return text if text.isascii() else "".join(_escape(c) if "\ud800" <= c <= "\udfff" else c for c in text)


def writable_json(text: str) -> str:
    """The same for a text that is JSON: the escape is one within its strings."""
    return text if text.isascii() else _HALVES.sub(lambda half: "\\" + _escape(half[0]), text)


def _escape(character: str) -> str:
    if ord(character) in BYTES:
        return f"\\x{ord(character) - 0xDC00:02x}"
    return character.encode("unicode_escape").decode("ascii")
