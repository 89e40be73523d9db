"""A season as plain lines of a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator

from audit.message.shown import shown_line, shown_name
from audit.season.find import Problem
from audit.season.season import Season
from audit.season.told import Table, summary, tables

NARROWEST, WIDEST = 80, 120
"""Characters of a line at least, where a terminal does not say more, and at most."""
ROWS = 12
"""Rows of a table that a terminal shows; the page has them all."""
GAP = 2


def room() -> int:
    """Characters that a line may take; audit.report.terminal says the same and loads pandas for more."""
    from rich.console import Console

    return min(max(Console().width, NARROWEST), WIDEST)


def lines(found: Season, width: int) -> Iterator[str]:
    """All that a terminal shows."""
    yield from textwrap.wrap(" ".join(summary(found)), width)
    for table in tables(found):
        yield ""
        yield table.title
        yield from textwrap.wrap(table.sure, width, initial_indent="  ", subsequent_indent="  ")
        yield from _rows(table, width)


def problem_lines(problems: Iterable[Problem]) -> Iterator[str]:
    """One line for each archive that was skipped or is not whole."""
    for one in problems:
        done = "skipped" if one.skipped else "used"
        yield f"{shown_name(str(one.path))}: {done}: {one.why}"


def _rows(table: Table, width: int) -> Iterator[str]:
    if not table.rows:
        yield f"  {table.empty}"
        return
    rows = [[shown_line(cell.text) for cell in row] for row in table.rows[:ROWS]]
    cells = [list(table.columns), *rows]
    wide = _widths(cells, width - GAP * len(table.columns))
    for row in cells:
        parts = [textwrap.wrap(text, room) or [""] for text, room in zip(row, wide, strict=True)]
        for at in range(max(map(len, parts))):
            told = (part[at] if at < len(part) else "" for part in parts)
            yield "  " + (" " * GAP).join(f"{t:<{w}}" for t, w in zip(told, wide, strict=True)).rstrip()
    if len(table.rows) > ROWS:
        yield f"  and {len(table.rows) - ROWS} more on the page"


def _widths(cells: list[list[str]], room: int) -> list[int]:
    """Each column as wide as its longest text, the widest ones narrowed until all fit."""
    wide = [max(len(row[at]) for row in cells) for at in range(len(cells[0]))]
    while sum(wide) > room and max(wide) > 8:
        wide[wide.index(max(wide))] -= 1
    return wide
