"""Questions in SQL: what is answered, what is refused, and that a refusal leaves nothing behind."""

import json

import pytest
from season_rows import FIXTURES

from audit.errors import AuditError
from audit.season.ask import as_csv, as_records, as_table, ask
from audit.season.book import open_book
from audit.season.duck import require
from audit.season.guard import FUNCTIONS, TABLE_FUNCTIONS, checked
from audit.season.views import VIEWS


@pytest.fixture(scope="module")
def book():
    return open_book([FIXTURES / "version-1"], everything=True)


@pytest.fixture(scope="module")
def table():
    return FIXTURES / "version-1" / "ravnsund" / "data" / "knowledge" / "frames.parquet"


HOSTILE = [
    "SELECT * FROM read_text('/etc/passwd')",
    "SELECT * FROM read_blob('/etc/passwd')",
    "SELECT * FROM read_csv('/etc/passwd', columns = {'a': 'VARCHAR'}, delim = '|')",
    "SELECT * FROM read_csv_auto('/etc/passwd')",
    "SELECT * FROM read_json('/etc/passwd')",
    "SELECT * FROM read_parquet('{table}')",
    "SELECT * FROM parquet_scan('{table}')",
    "SELECT * FROM parquet_metadata('{table}')",
    "SELECT * FROM '{table}'",
    'SELECT * FROM "{table}"',
    "SELECT * FROM '/etc/passwd.csv'",
    "SELECT * FROM glob('/etc/*')",
    "SELECT * FROM sniff_csv('/etc/passwd')",
    "WITH a AS (SELECT * FROM read_text('/etc/passwd')) SELECT * FROM a",
    "WITH a AS (WITH b AS (SELECT content FROM read_text('/etc/passwd')) SELECT * FROM b) SELECT * FROM a",
    "SELECT (SELECT content FROM read_text('/etc/passwd'))",
    "SELECT * FROM frames WHERE name IN (SELECT content FROM read_text('/etc/passwd'))",
    "SELECT * FROM frames ORDER BY (SELECT content FROM read_text('/etc/passwd'))",
    "SELECT * FROM frames LIMIT (SELECT length(content) FROM read_text('/etc/passwd'))",
    "SELECT * FROM frames, LATERAL (SELECT * FROM read_text('/etc/' || 'passwd'))",
    "SELECT 1 UNION ALL SELECT content FROM read_text('/etc/passwd')",
    "SELECT CASE WHEN EXISTS (FROM read_text('/etc/passwd')) THEN 1 END",
    "SELECT sum(iso) FILTER (name IN (SELECT content FROM read_text('/etc/passwd'))) FROM frames",
    "SELECT first_value(iso) OVER (ORDER BY (SELECT content FROM read_text('/etc/passwd'))) FROM frames",
    "SELECT list_transform([1], lambda x: (SELECT max(content) FROM read_text('/etc/passwd'))) FROM frames",
    "WITH RECURSIVE t(n) AS (SELECT 1 UNION ALL SELECT size FROM read_text('/etc/passwd')) SELECT * FROM t",
    'WITH "/etc/passwd.csv" AS (SELECT 1) SELECT * FROM "/etc/passwd.csv"',
    'SELECT * FROM (WITH "a.csv" AS (SELECT 1) FROM "a.csv"), "a.csv"',
    "WITH _frames AS (SELECT 1) SELECT * FROM _frames",
    "WITH duckdb_settings AS (SELECT 1) SELECT * FROM duckdb_settings",
    "SELECT * FROM _paths",
    "SELECT * FROM main._frames",
    "SELECT * FROM memory.main.frames",
    "SELECT * FROM information_schema.tables",
    "SELECT * FROM duckdb_settings()",
    "SELECT * FROM duckdb_secrets()",
    "SELECT * FROM pg_catalog.pg_tables",
    "SELECT * FROM sqlite_master",
    "SELECT * FROM query('SELECT 1')",
    "SELECT * FROM query_table('_paths')",
    "SELECT * FROM arrow_scan(1, 2, 3)",
    "SELECT * FROM python_map_function()",
    "SELECT * FROM json_execute_serialized_sql('x')",
    "SELECT getenv('HOME')",
    "SELECT current_setting('temp_directory')",
    "SELECT getvariable('x')",
    "SELECT write_log('x')",
    "SELECT main.getenv('HOME')",
    "SELECT sleep_ms(10)",
    "SELECT nextval('x')",
    "SELECT read_text('/etc/passwd')",
    "SELECT {'a': getenv('HOME')}",
    "COPY frames TO '{out}'",
    "COPY (SELECT 1) TO '{out}' (FORMAT csv)",
    "COPY frames FROM '/etc/passwd'",
    "EXPORT DATABASE '{out}'",
    "ATTACH '{out}' AS other",
    "DETACH memory",
    "INSTALL httpfs",
    "LOAD httpfs",
    "LOAD '{out}'",
    "PRAGMA database_list",
    "SET enable_external_access = true",
    "RESET lock_configuration",
    "CREATE TABLE t AS SELECT 1",
    "CREATE VIEW v AS SELECT 1",
    "CREATE MACRO m() AS 1",
    "CREATE SECRET s (TYPE s3)",
    "INSERT INTO _frames SELECT * FROM _frames",
    "DELETE FROM _frames",
    "UPDATE _frames SET iso = 1",
    "DROP VIEW frames",
    "ALTER TABLE _frames ADD COLUMN x INT",
    "CALL range(3)",
    "EXPLAIN ANALYZE SELECT 1",
    "PREPARE p AS SELECT 1",
    "EXECUTE p",
    "VACUUM",
    "CHECKPOINT",
    "USE memory",
    "SHOW ALL TABLES",
    "DESCRIBE frames",
    "SUMMARIZE frames",
    "SELECT 1; DROP VIEW frames",
    "SELECT 1; COPY frames TO '{out}'",
    "",
    ";",
    "-- nothing",
    "$(touch {out})",
    "`touch {out}`",
    "SELECT 1 \\! touch {out}",
    ".shell touch {out}",
    "SELECT ?",
    "FROM frames PIVOT (count(*) FOR declaration IN ('worn'))",
]


def filled(sql, table, folder):
    return sql.replace("{table}", str(table)).replace("{out}", str(folder / "out"))


@pytest.mark.parametrize("sql", HOSTILE)
def test_what_could_do_harm_is_refused_in_one_line(book, table, tmp_path, sql):
    before = table.read_bytes()
    said = (
        sql.replace("{table}", str(table))
        .replace("{out}", str(tmp_path / "out"))
        .replace("{{", "{")
        .replace("}}", "}")
    )
    with pytest.raises(AuditError, match=r"^--sql: ") as refused:
        ask(book.database, said, 10, longest_s=5)
    assert "\n" not in str(refused.value)
    assert list(tmp_path.iterdir()) == [] and table.read_bytes() == before
    assert book.database.execute("SELECT count(*) FROM frames").fetchall() == [(43,)]


@pytest.mark.parametrize(
    "sql",
    [
        "SELECT * FROM read_text('/etc/passwd')",
        "SELECT * FROM '/etc/passwd.csv'",
        "SELECT * FROM read_parquet('{table}')",
        "COPY frames TO '{out}'",
        "ATTACH '{out}'",
        "INSTALL httpfs",
        "LOAD parquet_of_somebody",
        "SET enable_external_access = true",
        "SET lock_configuration = false",
        "SET allowed_paths = ['/etc/passwd']",
        "EXPORT DATABASE '{out}'",
    ],
)
def test_the_lock_alone_would_hold_too(book, table, tmp_path, sql):
    """Behind the guard the database itself opens nothing, should a question ever slip through."""
    with pytest.raises(require().Error):
        book.database.execute(filled(sql, table, tmp_path))
    assert list(tmp_path.iterdir()) == []


GOOD = [
    "SELECT * FROM archives",
    "FROM frames LIMIT 2",
    "SELECT year(captured_at) AS year, count(*), avg(iso) FROM frames GROUP BY ALL ORDER BY year",
    "WITH a AS (SELECT rig, count(*) AS n FROM frames GROUP BY rig) FROM a JOIN rigs USING (rig)",
    "SELECT unnest(filters) AS f, count(*) FROM rigs GROUP BY 1",
    "SELECT count(*) FILTER (corner_verdict = 'cut') / count(*) FROM frames",
    "SELECT DISTINCT ON (lens) lens, iso FROM frames ORDER BY lens, iso DESC NULLS LAST",
    "SELECT lens, row_number() OVER (PARTITION BY lens) FROM frames QUALIFY row_number() OVER () < 3",
    "SELECT captured_at::DATE, captured_at + INTERVAL 1 DAY, extract(month FROM captured_at) FROM frames",
    "SELECT filters[1], -even_stops_max, rig_words LIKE '%ring%', rig IS NULL, 7 // 2 FROM rigs",
    "SELECT count(*) FROM frames f WHERE EXISTS (FROM findings g WHERE g.frame_id = f.frame_id)",
    "SELECT check_id, level, count(*) FROM findings GROUP BY ALL UNION SELECT 'x', 'y', 1",
    "WITH RECURSIVE t(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM t WHERE n < 5) SELECT * FROM t",
    "SELECT filter, regr_slope(stops, epoch(measured_at)), median(stops) FROM measurements GROUP BY ALL",
    "SELECT filter FROM carried ANTI JOIN (SELECT unnest(filters) AS filter FROM rigs) USING (filter)",
]


@pytest.mark.parametrize("sql", GOOD)
def test_a_question_to_the_views_is_answered(book, sql):
    assert ask(book.database, sql, 10).columns


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: view.name)
def test_a_view_has_the_columns_that_are_told(book, view):
    rows = book.database.execute(f"SELECT column_name, column_type FROM (DESCRIBE {view.name})").fetchall()
    assert rows == [(column.name, column.kind) for column in view.columns]


def test_no_view_tells_a_place(book):
    for view in VIEWS:
        text = as_csv(ask(book.database, f"FROM {view.name}", 1000))
        assert "Ravnsund" not in text and "ravnsund" not in text


def test_no_function_that_is_let_through_changes_or_reads_anything():
    fresh = open_book([FIXTURES]).database
    known = fresh.execute(
        "SELECT function_name, bool_or(has_side_effects), list(function_type) FROM duckdb_functions() "
        "GROUP BY 1"
    ).fetchall()
    for name, acts, kinds in known:
        if name in FUNCTIONS:
            assert not acts, name
            assert name in TABLE_FUNCTIONS or "table" not in kinds, name


def test_rows_and_time_are_limited(book):
    answer = ask(book.database, "SELECT name FROM frames", 5)
    assert len(answer.rows) == 5 and answer.more
    assert not ask(book.database, "SELECT name FROM frames", 43).more
    endless = "SELECT count(*) FROM range(10000000000) a, range(1000) b WHERE a.range % 7 = b.range"
    with pytest.raises(AuditError, match=r"^--sql: took longer than 0\.5 s"):
        ask(book.database, endless, 1, longest_s=0.5)
    assert ask(book.database, "SELECT 1", 1).rows == ((1,),)


def test_memory_is_limited(book):
    with pytest.raises(AuditError, match=r"^--sql: takes more memory"):
        ask(book.database, "SELECT list(a.range), list(b.range) FROM range(100000) a, range(100000) b", 1)


def test_an_answer_reads_back_as_json_and_csv(book):
    sql = (
        "SELECT 'a' AS t, 1.5::DOUBLE AS r, NULL AS n, [1, 2] AS l, true AS b, DATE '2024-05-01' AS d, "
        "'=1+1' AS f, 'nan'::DOUBLE AS x"
    )
    answer = ask(book.database, sql, 5)
    assert json.loads(json.dumps(as_records(answer)))["rows"] == [
        ["a", 1.5, None, [1, 2], True, "2024-05-01", "=1+1", None]
    ]
    assert as_csv(answer).splitlines() == ["t,r,n,l,b,d,f,x", "a,1.5,,1; 2,true,2024-05-01,'=1+1,"]
    assert as_table(answer).splitlines()[0].split() == list("trnlbdfx")


def test_what_a_terminal_acts_on_is_shown_as_an_escape(book):
    shown = as_table(ask(book.database, "SELECT '\x1b[31mred' AS \"a\x1bb\"", 1))
    assert "\x1b" not in shown


def test_a_mistake_is_told_in_duckdbs_own_words(book):
    with pytest.raises(AuditError, match=r'--sql: .*"nothing"'):
        checked(book.database, "SELECT 1")
        ask(book.database, "SELECT nothing FROM frames", 1)
