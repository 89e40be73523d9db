"""File names and texts as they may be shown, whatever bytes they hold."""

from __future__ import annotations

import os
import unicodedata

import audit.say


def shown_name(name: str) -> str:
    """A file name as text: bytes that are not UTF-8, and characters that act on a terminal, as escapes."""
    text = os.fsencode(name).decode("utf-8", "backslashreplace")
    if text.isprintable():
        return text
    return "".join(
        c if unicodedata.category(c)[0] not in "C" and c not in "\u2028\u2029" else _escape(c) for c in text
    )


def say(message: str, /, **values: object) -> str:
    """As `audit.say.say`; a report finds the text by its escapes too, with which a mistake is shown."""
    text = audit.say.say(message, **values)
    if not text.isprintable():
        shown = {key: shown_name(value) if isinstance(value, str) else value for key, value in values.items()}
        audit.say.say(message, **shown)
    return text


def _escape(character: str) -> str:
    return character.encode("unicode_escape").decode("ascii")
