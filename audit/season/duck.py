"""DuckDB: loaded only where a season is asked for, set up so that it opens nothing by itself."""

from __future__ import annotations

import importlib
import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from audit.errors import AuditError

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

NO_PACKAGE = 'season: the package duckdb is missing; get it with: pip install "cornerstop[season]"'
MEMORY = "600MB"
"""What DuckDB may take; Python, Arrow and the reading of files come on top of it."""
_ALWAYS = (
    "SET autoinstall_known_extensions = false",
    "SET autoload_known_extensions = false",
    "SET allow_community_extensions = false",
    "SET python_enable_replacements = false",
    "SET temp_directory = ''",
    "SET preserve_insertion_order = false",
    "SET parquet_metadata_cache = true",
    f"SET memory_limit = '{MEMORY}'",
)


def require() -> Any:
    """DuckDB itself; an AuditError of one line where it is missing."""
    try:
        return importlib.import_module("duckdb")
    except ImportError as error:
        raise AuditError(NO_PACKAGE) from error


def opened(threads: int | None = None) -> DuckDBPyConnection:
    """A database in memory that loads no extension, writes no file and reads no variable of Python's."""
    found: DuckDBPyConnection = require().connect(":memory:")
    for line in _ALWAYS:
        found.execute(line)
    found.execute(f"SET threads = {threads or min(_cores(), 8)}")
    return found


def _cores() -> int:
    """Cores that this process may use."""
    allowed = getattr(os, "sched_getaffinity", None)
    return len(allowed(0)) if allowed else os.cpu_count() or 1


def lock(database: DuckDBPyConnection) -> None:
    """From here on no statement reads or writes a file, and none can change that."""
    database.execute("SET enable_external_access = false")
    database.execute("SET lock_configuration = true")


def quoted(text: str) -> str:
    """A text as SQL writes it."""
    return "'" + text.replace("'", "''") + "'"


def listed(paths: Iterable[Path]) -> str:
    """Files as a list of SQL, each meant as it is written: DuckDB takes some characters for patterns."""
    return "[" + ", ".join(quoted(_literal(str(path))) for path in paths) + "]"


def _literal(path: str) -> str:
    return "".join(f"[{c}]" if c in "*?[" else c for c in path)


def put(database: DuckDBPyConnection, table: str, rows: Sequence[tuple[Any, ...]]) -> None:
    """Adds rows to a table, a list for each of its columns."""
    if rows:
        columns = [list(values) for values in zip(*rows, strict=True)]
        lists = ", ".join("unnest(?)" for _ in columns)
        database.execute(f"INSERT INTO {table} SELECT {lists}", columns)
