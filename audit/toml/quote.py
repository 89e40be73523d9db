"""Anybody's words as a string of TOML, whatever characters are in them."""

from __future__ import annotations

from audit.message.shown import acts

SHORT = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"}


def quoted(text: str) -> str:
    """The text as one line in quotes; tomllib reads it back equal.

    What acts on a terminal or cannot be seen is escaped, so that an editor shows what is there. Half a
    character (`writable` replaces it) is none that TOML can hold: ValueError.
    """
    return f'"{"".join(map(_in_toml, text))}"'


def _in_toml(character: str) -> str:
    if character in SHORT:
        return SHORT[character]
    code = ord(character)
    if 0xD800 <= code < 0xE000:
        raise ValueError(f"half a character: U+{code:04X}")
    if not acts(character):
        return character
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"
