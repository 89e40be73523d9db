"""File names and texts as they may be shown, whatever bytes they hold."""

from __future__ import annotations

import os
import unicodedata


def shown_name(name: str) -> str:
    """A file name as text: bytes that are not UTF-8, and characters that act on a terminal, as escapes."""
    text = os.fsencode(name).decode("utf-8", "backslashreplace")
    if text.isprintable():
        return text
    return "".join(
        c if unicodedata.category(c)[0] not in "C" and c not in "\u2028\u2029" else _escape(c) for c in text
    )


def _escape(character: str) -> str:
    return character.encode("unicode_escape").decode("ascii")
