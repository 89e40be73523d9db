"""The archives opened as one database: the columns that are asked for, read by DuckDB, and views on them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from audit.errors import AuditError
from audit.message.shown import shown_name
from audit.season.duck import listed, lock, opened, put, require
from audit.season.find import Archive, Problem, find
from audit.season.kits import Ids, read_kits
from audit.season.load import begin, load_findings, load_frames
from audit.season.twins import find_twins
from audit.season.views import NEEDED, OF_RIG, VIEWS

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection


@dataclass(frozen=True)
class Book:
    """What was opened. `missing` counts the archives whose version had no such column, which is null then.

    `repeats` are frames left out because another archive holds the same bytes.
    """

    database: DuckDBPyConnection
    archives: tuple[Archive, ...]
    problems: tuple[Problem, ...]
    frames: int
    repeats: int
    versions: dict[int, int]
    missing: dict[str, int]


def open_book(folders: Iterable[Path], *, everything: bool = False, threads: int | None = None) -> Book:
    """Opens every archive below the folders. Raises AuditError where there is none that can be read.

    Without `everything` the columns that only a question of the user's own could ask for are null.
    """
    require()
    archives, problems = find(folders)
    if not archives and not problems:
        raise AuditError("no archive below these folders; make one with: cornerstop archive DUMP DEST")
    database = opened(threads)
    begin(database, archives)
    problems += load_findings(database, archives)
    bad = {problem.path for problem in problems}
    problems += load_frames(database, [a for a in archives if a.path not in bad], everything=everything)
    bad = {problem.path for problem in problems}
    good = {archive.number: archive for archive in archives if archive.path not in bad}
    if not good:
        first = min(problems)
        raise AuditError(f"no archive could be read; the first: {shown_name(str(first.path))}: {first.why}")
    kits, unclear = read_kits(good.values())
    missing = _missing(database, good)
    repeats = _settle(database, good, kits)
    lock(database)
    [(frames,)] = database.execute("SELECT count(*) FROM _frames").fetchall()
    counts = database.execute(
        "SELECT schema_version, count(*) FROM _archives GROUP BY ALL ORDER BY 1"
    ).fetchall()
    every = tuple(sorted({*problems, *unclear}))
    return Book(database, tuple(good.values()), every, frames, repeats, dict(counts), missing)


def _settle(database: DuckDBPyConnection, good: dict[int, Archive], kits: dict[int, Ids]) -> int:
    """Leaves out what does not count, and makes the tables behind the views; number of repeated frames."""
    numbers = ", ".join(map(str, good))
    for table in ("_frames", "_findings", "_known"):
        # deletes: rows of our own tables in memory; an archive is only read
        database.execute(f"DELETE FROM {table} WHERE archive NOT IN ({numbers})")
    twins = find_twins(database, good)
    database.execute("CREATE TABLE _twins (archive INTEGER, frame_id BIGINT)")
    put(database, "_twins", twins)
    if twins:
        same = "(f.archive, f.frame_id) = (t.archive, t.frame_id)"
        # deletes: rows of our own table in memory; an archive is only read
        database.execute(f"DELETE FROM _frames f USING _twins t WHERE {same}")
    of_rig = ", ".join(f'any_value("{name}") AS "{name}"' for name in OF_RIG)
    rigs = f"SELECT rig, {of_rig} FROM _frames WHERE rig IS NOT NULL GROUP BY rig"
    database.execute(f"CREATE TABLE _rigs AS {rigs}")
    for name in (*OF_RIG, "bytes_id"):
        database.execute(f'ALTER TABLE _frames DROP COLUMN "{name}"')
    _carried(database, kits)
    for view in VIEWS:
        database.execute(f"CREATE VIEW {view.name} AS {view.sql}")
    return len(twins)


_ARCHIVES = """
CREATE TABLE _archives AS SELECT k.*, archive IN (SELECT archive FROM _kits) AS has_kit,
    coalesce(f.frames, 0) AS frames, coalesce(t.repeated, 0) AS repeated_frames, f.first_at, f.last_at
FROM _known k
LEFT JOIN (SELECT archive, count(*) AS frames, min(captured_at) AS first_at, max(captured_at) AS last_at
    FROM _frames GROUP BY archive) f USING (archive)
LEFT JOIN (SELECT archive, count(*) AS repeated FROM _twins GROUP BY archive) t USING (archive)"""


def _carried(database: DuckDBPyConnection, kits: dict[int, Ids]) -> None:
    """The tables of filters carried and of archives."""
    database.execute("CREATE TABLE _kits (archive INTEGER, filter VARCHAR)")
    put(database, "_kits", [(number, name) for number, ids in kits.items() for name in (*ids, None)])
    database.execute(_ARCHIVES)
    # of an archive that repeats others wholly nothing counts, nor what it carried
    counted = "SELECT archive FROM _archives WHERE frames > 0"
    database.execute(
        f"CREATE TABLE _carried AS SELECT * FROM _kits WHERE filter IS NOT NULL AND archive IN ({counted})"
    )


def _missing(database: DuckDBPyConnection, good: dict[int, Archive]) -> dict[str, int]:
    """Columns that some archives lack, with their number: one archive of each version is looked at.

    Archives that the same version of the program wrote have the same columns.
    """
    groups = (
        "SELECT min(archive), count(*) FROM _known WHERE archive IN ({}) GROUP BY schema_version, program"
    )
    lacking: Counter[str] = Counter()
    for number, count in database.execute(groups.format(", ".join(map(str, good)))).fetchall():
        schema = f"SELECT name FROM parquet_schema({listed([good[number].table])})"
        there = {name for (name,) in database.execute(schema).fetchall()}
        lacking.update({name: count for name in NEEDED if name not in there})
    return dict(sorted(lacking.items()))
