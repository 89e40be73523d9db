"""Whole tables put into a TOML text behind the last of their kind; every other byte stays."""

from __future__ import annotations

import tomllib
from typing import Any

from audit.toml.lines import toml_lines, value_lines
from audit.toml.text_file import line_ends


def with_tables(text: str, table: str, block: str) -> str:
    """The text with a block of [[table]] tables behind its last one, else at the end.

    Comments on the lines right below that last table stay with it. Raises ValueError where the text would say
    anything else than before beside the new tables: where the list is written in another way.
    """
    plain = text.replace("\r\n", "\n")
    lines = plain.split("\n")
    at = _end_of_last(plain, lines, table)
    while lines and at == len(lines) and not lines[-1].strip():
        lines.pop()
        at = len(lines)
    after = "\n".join([*lines[:at], *[""] * bool(at), block.rstrip("\n"), *(lines[at:] or [""])])
    if not _only_more(plain, after, table, block):
        raise ValueError(table)
    return line_ends(after, text)


def _end_of_last(plain: str, lines: list[str], table: str) -> int:
    """How many lines stand before the place."""
    found = toml_lines(plain)
    indexes = [path[1] for path in found if path[0] == table and len(path) > 1 and isinstance(path[1], int)]
    if not indexes:
        return len(lines)
    end = max(line for path, line in found.items() if path[:2] == (table, max(indexes)))
    end = max([end, *(last for first, last in value_lines(plain) if first <= end <= last)])
    below = end
    while below < len(lines) and lines[below].lstrip().startswith("#"):
        below += 1
    leads_over = below < len(lines) and lines[below].lstrip().startswith("[")
    return end if leads_over else below


def _only_more(before: str, after: str, table: str, block: str) -> bool:
    try:
        old, new, more = (_data(text) for text in (before, after, block))
    except tomllib.TOMLDecodeError:
        return False
    return new == {**old, table: [*old.get(table, []), *more.get(table, [])]} and set(more) <= {table}


def _data(text: str) -> dict[str, Any]:
    return tomllib.loads(text.removeprefix("\ufeff"))
