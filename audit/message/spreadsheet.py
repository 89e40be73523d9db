"""CSV, and its texts so that no spreadsheet runs one as a formula.

A spreadsheet runs a cell that begins with = + - @, a tab or a line end (OWASP, "CSV Injection"), also behind
blanks or in full-width forms, and, where a country's tables are parted by semicolons, what follows one. An
apostrophe before it makes it a text; a real apostrophe at such a place is doubled, so that nothing is lost.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

_STARTS = "=+\\-@\uff1d\uff0b\uff0d\uff20"
_FIRST = re.compile(rf"^(?='|[\t\r\n]|\s*[{_STARTS}])")
_LATER = re.compile(rf"(;\s*)(?=['{_STARTS}])")
_QUOTED = re.compile(r'[",\r\n]')
_MARKED_FIRST, _MARKED_LATER = re.compile(r"^'"), re.compile(r"(;\s*)'")


def disarmed(text: str) -> str:
    """The text of a cell with an apostrophe wherever a spreadsheet would begin a formula; else as it is."""
    return _FIRST.sub("'", _LATER.sub(r"\1'", text))


def restored(cell: str) -> str:
    """The text that such a cell stands for."""
    return _MARKED_LATER.sub(r"\1", _MARKED_FIRST.sub("", cell))


def csv_text(rows: Iterable[Iterable[str]]) -> str:
    """Rows of cells as RFC 4180 has them, with LF for line ends; csv.writer left a CR unquoted."""
    return "".join(",".join(map(_quoted, row)) + "\n" for row in rows)


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if _QUOTED.search(cell) else cell
