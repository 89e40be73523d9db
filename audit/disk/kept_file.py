"""A file of what is kept between runs, opened only where it is new or ours; another program's stays as it is.

SQLite acts on what lies beside a database. So whether a file is ours is told from its own bytes, read as they
are, before SQLite looks for a journal.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from audit.disk.regular import NotRegularError, is_regular, open_regular

LAYOUT = "CREATE TABLE {table} (key BLOB PRIMARY KEY, value BLOB, bytes INTEGER, used REAL)"
SIBLINGS = ("-journal", "-wal", "-shm")
_HEAD, _JOURNAL_KIND, _ROLLBACK = b"SQLite format 3\0", slice(18, 20), b"\x01\x01"
"""Start of a database, where it says how it is journalled, and what ours say (file format, 1.3)."""
_NAMES_OTHERS = bytes.fromhex("d9d505f920a163d7")
"""End of a journal that names a second one, which SQLite would remove (file format, 3)."""
_MOST_VALUE_BYTES = 1_100_000
_STEPS, _MOST_STEPS = 1_000, 50_000_000
"""SQLite's own steps that one run may take: in a broken file pages may hold one another without end."""


class ForeignFileError(Exception):
    """A file that is not ours, or not as we write it: nothing may be written to it."""


def open_kept(path: Path, table: str, wait_s: float) -> sqlite3.Connection:
    """The file with its one table, made if it is not there.

    Raises ForeignFileError, OSError, or sqlite3.Error, and then has written nothing.
    """
    if path.is_symlink() and not path.exists():  # the file would be made wherever the link leads
        raise ForeignFileError
    path = path.resolve()  # what lies beside a file lies beside the one that a link leads to
    new = _is_new(path)
    if not new:
        _refuse_foreign(path, table)
    file = _connected(path, "rwc" if new else "rw", wait_s)
    try:
        if not _schema(file):
            file.execute(LAYOUT.format(table=table).replace("TABLE", "TABLE IF NOT EXISTS", 1))
        if _schema(file) != _ours(table):
            raise ForeignFileError
    except BaseException:
        file.close()
        raise
    return file


def _is_new(path: Path) -> bool:
    """Whether there is no file, or an empty one that is nobody's."""
    beside = [path.with_name(path.name + ending) for ending in SIBLINGS]
    try:
        if not is_regular(path):
            raise NotRegularError(path)
        empty = path.stat().st_size == 0
    except FileNotFoundError:
        empty = True
    # A journal beside nothing would be removed.
    if empty and any(os.path.lexists(one) for one in beside):
        raise ForeignFileError
    return empty


def _ours(table: str) -> list[tuple[str, str, str, str | None]]:
    """All that the file may hold: our table, and the index by which SQLite finds its keys."""
    layout = LAYOUT.format(table=table)
    return [("index", f"sqlite_autoindex_{table}_1", table, None), ("table", table, table, layout)]


def _refuse_foreign(path: Path, table: str) -> None:
    """Raises ForeignFileError unless the file and what lies beside it is as we leave them."""
    with open_regular(path) as file:
        head = file.read(100)
    if not head.startswith(_HEAD) or head[_JOURNAL_KIND] != _ROLLBACK:
        raise ForeignFileError
    journal, *others = (path.with_name(path.name + ending) for ending in SIBLINGS)
    if any(os.path.lexists(one) for one in others) or _names_others(journal):
        raise ForeignFileError
    # Read as it lies: no lock, no journal that is rolled back.
    with closing(_connected(path, "ro&immutable=1", 0)) as database:
        if _schema(database) != _ours(table):
            raise ForeignFileError


def _names_others(journal: Path) -> bool:
    """Whether a journal would have SQLite touch more than the file it lies beside."""
    if not os.path.lexists(journal):
        return False
    if journal.is_symlink():
        return True
    with open_regular(journal) as file:
        size = file.seek(0, os.SEEK_END)
        file.seek(max(0, size - len(_NAMES_OTHERS)))
        return file.read() == _NAMES_OTHERS


def _connected(path: Path, mode: str, wait_s: float) -> sqlite3.Connection:
    address = f"{path.absolute().as_uri()}?mode={mode}"
    file = sqlite3.connect(address, wait_s, isolation_level=None, check_same_thread=False, uri=True)
    file.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, _MOST_VALUE_BYTES)
    left = iter(range(_MOST_STEPS // _STEPS))
    file.set_progress_handler(lambda: next(left, None) is None, _STEPS)
    file.execute("PRAGMA trusted_schema = OFF")
    return file


def _schema(file: sqlite3.Connection) -> list[tuple[str, str, str, str | None]]:
    return file.execute("SELECT type, name, tbl_name, sql FROM sqlite_master ORDER BY type").fetchall()
