"""A question put to the views: the rows of its answer, within limits of rows and time."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from threading import Timer
from typing import TYPE_CHECKING, Any

from audit.message.shown import shown_line
from audit.message.spreadsheet import csv_text, disarmed
from audit.season.duck import require
from audit.season.guard import checked, first_line, refused

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

LONGEST_S = 60.0
_WIDEST = 60
"""Characters of a cell in the terminal."""


@dataclass(frozen=True)
class Answer:
    """Names of the columns, rows, and whether there were more than the limit."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]
    more: bool


def ask(database: DuckDBPyConnection, sql: str, limit: int, *, longest_s: float = LONGEST_S) -> Answer:
    """Puts a question: at most `limit` rows, at most `longest_s` seconds. AuditError where it may not be."""
    duckdb = require()
    question = checked(database, sql)
    timer = Timer(longest_s, database.interrupt)
    timer.start()
    try:
        database.execute(question)
        columns = tuple(str(described[0]) for described in database.description or ())
        rows = database.fetchmany(limit + 1)
    except duckdb.InterruptException:
        raise refused(f"took longer than {longest_s:g} s; ask for less") from None
    except duckdb.OutOfMemoryException:
        raise refused("takes more memory than a season may; ask for less") from None
    except duckdb.Error as error:
        raise refused(first_line(error)) from None
    finally:
        timer.cancel()
    return Answer(columns, tuple(tuple(map(_plain, row)) for row in rows[:limit]), len(rows) > limit)


def _plain(value: Any) -> Any:
    """A value as JSON has it; what JSON has no word for is null or a text."""
    match value:
        case float():
            return value if math.isfinite(value) else None
        case None | bool() | int() | str():
            return value
        case Decimal():
            return float(value)
        case datetime() | date() | time():
            return value.isoformat()
        case timedelta():
            return str(value)
        case list() | tuple():
            return [_plain(one) for one in value]
        case dict():
            return {str(key): _plain(one) for key, one in value.items()}
    return str(value)


def as_records(answer: Answer) -> dict[str, Any]:
    """The answer as plain data."""
    return {"columns": list(answer.columns), "rows": [list(row) for row in answer.rows], "more": answer.more}


def as_csv(answer: Answer) -> str:
    """The answer as CSV; null is an empty cell, and no spreadsheet takes a text for a formula."""
    return csv_text([map(disarmed, answer.columns), *(map(_cell, row) for row in answer.rows)])


def _cell(value: Any) -> str:
    """A number stays one."""
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return _bare(value) if number else disarmed(_bare(value))


def _bare(value: Any) -> str:
    if isinstance(value, list):
        return "; ".join(map(_bare, value))
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    return "" if value is None else str(value)


def as_table(answer: Answer) -> str:
    """The answer for a terminal: a line a row, numbers to the right."""
    cells = [
        [shown_line(name) for name in answer.columns],
        *([_shown(v) for v in row] for row in answer.rows),
    ]
    widths = [max(len(row[at]) for row in cells) for at in range(len(answer.columns))]
    right = [all(isinstance(row[at], int | float | None) for row in answer.rows) for at in range(len(widths))]
    lines = (
        "  ".join(
            c.rjust(w) if r else c.ljust(w) for c, w, r in zip(row, widths, right, strict=True)
        ).rstrip()
        for row in cells
    )
    return "\n".join(lines)


def _shown(value: Any) -> str:
    if isinstance(value, float):
        text = f"{value:.6g}"
    elif isinstance(value, list):
        text = ", ".join(map(_shown, value))
    else:
        text = "" if value is None else shown_line(str(value))
    return text if len(text) <= _WIDEST else text[: _WIDEST - 3] + "..."
