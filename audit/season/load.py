"""The archives' files read into tables; what DuckDB cannot read is found by halving, and named."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from audit.errors import AuditError
from audit.message.shown import shown_line
from audit.season.duck import listed, put, require
from audit.season.find import Archive, Problem
from audit.season.names import FINDINGS, SCHEMA_VERSION, TABLE
from audit.season.views import ANSWERED, NEEDED, OF_RIG, PLAIN, identity

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

_WORDS = 160
"""Characters of DuckDB's own reason that are shown."""
_JSON = (
    '{"schema_version": "INTEGER", "tool": {"version": "VARCHAR"}, '
    '"findings": [{"check": "VARCHAR", "level": "VARCHAR", "frames": ["VARCHAR"]}]}'
)
Archives = Sequence[Archive]


def begin(database: DuckDBPyConnection, archives: Archives) -> None:
    """Empty tables, and the numbers of the paths."""
    wanted = ", ".join(f'"{name}" {kind}' for name, kind in NEEDED.items())
    kinds = ", ".join(f'"{name}" {kind}' for name, kind in (PLAIN | OF_RIG).items())
    for table in (
        f"_template ({wanted}, filename VARCHAR)",
        "_paths (archive INTEGER, path VARCHAR, beside VARCHAR)",
        "_known (archive INTEGER, schema_version INTEGER, program VARCHAR)",
        "_findings (archive INTEGER, frame_id BIGINT, check_id VARCHAR, level VARCHAR)",
        "_frames (archive INTEGER, frame_id BIGINT, setup_id BIGINT, name VARCHAR, bytes_id BIGINT, "
        f"{kinds})",
    ):
        database.execute(f"CREATE TABLE {table}")
    rows = [(a.number, str(a.table), str(a.path / FINDINGS)) for a in archives]
    put(database, "_paths", rows)


def load_findings(database: DuckDBPyConnection, archives: Archives) -> list[Problem]:
    """Fills _known and _findings."""

    def read(some: Archives) -> None:
        files = listed(archive.path / FINDINGS for archive in some)
        database.execute(
            f"""CREATE OR REPLACE TABLE _read AS SELECT a.archive, from_json(t.content, '{_JSON}') AS said
            FROM read_text({files}) t JOIN _paths a ON a.beside = t.filename"""
        )
        database.execute(
            """INSERT INTO _known SELECT archive, said.schema_version, coalesce(said.tool.version, '')
            FROM _read"""
        )
        database.execute(
            f"""INSERT INTO _findings SELECT DISTINCT archive, {identity("archive", "frame")}, check_id, level
            FROM (SELECT archive, one."check" AS check_id, one.level AS level, unnest(one.frames) AS frame
                FROM (SELECT archive, unnest(said.findings) AS one FROM _read))"""
        )

    problems = _halving(archives, read, FINDINGS)
    database.execute("DROP TABLE IF EXISTS _read")  # deletes: our own table in memory
    paths = {archive.number: archive.path for archive in archives}
    odd = f"coalesce(schema_version, 0) NOT BETWEEN 1 AND {SCHEMA_VERSION}"
    rows = database.execute(f"SELECT archive, schema_version FROM _known WHERE {odd}").fetchall()
    return [*problems, *(Problem(paths[number], _strange(version)) for number, version in rows)]


def _strange(version: int | None) -> str:
    if version is None or version < 1:
        return f"{FINDINGS} does not say its data format"
    return (
        f"written by a newer version of cornerstop (data format {version}, known here: {SCHEMA_VERSION}); "
        "update this program"
    )


def load_frames(database: DuckDBPyConnection, archives: Archives, *, everything: bool) -> list[Problem]:
    """Fills _frames; only with `everything` the columns that no answer of our own needs, else null."""
    duckdb = require()

    def read(some: Archives) -> None:
        for way in _WAYS[:-1]:
            try:
                database.execute(_insert(some, everything, way))
                return
            except (
                duckdb.BinderException,
                duckdb.InvalidInputException,
            ):  # not all of them have every column
                continue
        database.execute(_insert(some, everything, _WAYS[-1]))

    return _halving(archives, read, TABLE)


_WAYS = (
    "read_parquet({files}, filename = true, hive_partitioning = false)",
    "read_parquet({files}, filename = true, hive_partitioning = false, union_by_name = true)",
    "(SELECT * FROM read_parquet({files}, filename = true, hive_partitioning = false, union_by_name = true) "
    "UNION ALL BY NAME SELECT * FROM _template)",
)
"""Where every file has all the columns; where some lack one; where all lack one. The first is quickest."""


def _insert(archives: Archives, everything: bool, way: str) -> str:
    source = way.format(files=listed(archive.table for archive in archives))
    names = (*PLAIN, *OF_RIG)
    values = ", ".join(f'p."{name}"' if everything or name in ANSWERED else "NULL" for name in names)
    return f"""INSERT INTO _frames SELECT a.archive, {identity("a.archive", "p.frame::VARCHAR")},
        CASE WHEN p.setup IS NOT NULL THEN {identity("a.archive", "p.setup")} END,
        regexp_extract(p.frame, '[^/]*$'), {identity("p.size_bytes", "p.clock_at")}, {values}
        FROM {source} p JOIN _paths a ON a.path = p.filename"""


def _halving(archives: Archives, read: Callable[[Archives], None], name: str) -> list[Problem]:
    """Reads all at once; where that fails, each half alone, down to the one that is broken."""
    duckdb = require()
    if not archives:
        return []
    try:
        read(archives)
        return []
    except duckdb.OutOfMemoryException:
        raise AuditError("season: too many frames for the memory; name fewer folders") from None
    except (duckdb.Error, UnicodeError) as error:
        why = str(error)
    if len(archives) > 1:
        half = len(archives) // 2
        return [p for part in (archives[:half], archives[half:]) for p in _halving(part, read, name)]
    words = why.splitlines()[0].replace(str(archives[0].path / name), name)
    return [Problem(archives[0].path, f"{name} cannot be read: {shown_line(words)[:_WORDS]}")]
