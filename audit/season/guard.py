"""A question in SQL, let through only where all it names is known to be harmless.

The database is locked besides (see duck.py): this keeps out what a lock does not, such as tables of our own,
settings, and functions that take an address in memory. What is not named here is refused, so that what a
later DuckDB learns is refused too.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from audit.errors import AuditError
from audit.season.duck import require
from audit.season.views import VIEWS

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

_TABLES = {"BASE_TABLE", "JOIN", "SUBQUERY", "EMPTY", "EMPTY_FROM", "EXPRESSION_LIST", "TABLE_FUNCTION"}
_QUERIES = {"SELECT_NODE", "SET_OPERATION_NODE", "RECURSIVE_CTE_NODE", "CTE_NODE"}
_MODIFIERS = {"ORDER_MODIFIER", "LIMIT_MODIFIER", "LIMIT_PERCENT_MODIFIER", "DISTINCT_MODIFIER"}
_ORDERS = {"ASCENDING", "DESCENDING", "ORDER_DEFAULT"}
_NODES = _TABLES | _QUERIES | _MODIFIERS | _ORDERS
_CLASSES = {
    *(
        "CONSTANT",
        "COLUMN_REF",
        "FUNCTION",
        "WINDOW",
        "CASE",
        "CAST",
        "COMPARISON",
        "CONJUNCTION",
        "OPERATOR",
    ),
    *("SUBQUERY", "STAR", "BETWEEN", "LAMBDA", "LAMBDA_REF", "POSITIONAL_REFERENCE", "COLLATE", "TYPE"),
}
TABLE_FUNCTIONS = frozenset({"range", "generate_series", "unnest"})
_FUNCTIONS = """
    abs add age any_value approx_count_distinct arg_max arg_min array_agg atan avg between bool_and
    bool_or cast cbrt ceil ceiling coalesce concat concat_ws contains corr cos count count_if count_star
    covar_pop covar_samp cume_dist date_add date_diff date_part date_sub date_trunc datediff datepart
    datetrunc day dayname dayofmonth dayofweek dayofyear degrees dense_rank divide ends_with entropy
    epoch exp extract favg first first_value floor format fsum geomean geometric_mean greatest
    group_concat grouping hour if ifnull ilike_escape instr isfinite isinf isnan kurtosis lag last
    last_day last_value lcase lead least left len length like_escape list list_aggregate list_any_value
    list_avg list_contains list_count list_distinct list_extract list_filter list_has list_has_all
    list_has_any list_max list_min list_reduce list_slice list_sort list_sum list_transform list_unique
    list_value listagg ln log log10 log2 lower lpad ltrim mad make_date make_timestamp max max_by mean
    median min min_by minute mod mode month monthname multiply not_ilike_escape not_like_escape
    nth_value ntile nullif percent_rank percentile_cont percentile_disc pi pow power product quantile
    quantile_cont quantile_disc quarter radians rank regexp_extract regexp_matches regexp_replace
    regr_count regr_intercept regr_r2 regr_slope replace reverse right round round_even row row_number
    rpad rtrim sem sign sin skewness split_part sqrt starts_with stddev stddev_pop stddev_samp strftime
    string_agg string_split strlen struct_extract struct_pack substr substring subtract sum tan
    time_bucket to_days to_hours to_minutes to_months to_seconds to_years trim trunc try_cast typeof
    ucase unnest upper var_pop var_samp variance week weekday weekofyear xor year yearweek
"""
FUNCTIONS = frozenset(_FUNCTIONS.split())
"""Functions of numbers, texts, times, lists and groups; none reads or changes anything outside its row."""
_PLAIN_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_]*")


def checked(database: DuckDBPyConnection, sql: str) -> str:
    """The question as it may be put. Raises AuditError for all that is no question to the views."""
    duckdb = require()
    try:
        statements = duckdb.extract_statements(sql)
    except duckdb.Error as error:
        raise refused(first_line(error)) from None
    if len(statements) != 1:
        raise refused(f"{len(statements)} statements; write one SELECT")
    kind = statements[0].type.name
    if kind != "SELECT":
        raise refused(f"{kind.replace('_', ' ')} is no question; write a SELECT")
    [(text,)] = database.execute("SELECT json_serialize_sql(?::VARCHAR)", [sql]).fetchall()
    tree = json.loads(text)
    if tree.get("error"):
        raise refused("this kind of SELECT is not understood; write a plainer one")
    _check(database, tree["statements"])
    return sql


def refused(why: str) -> AuditError:
    """The one line that says why a question is not put."""
    return AuditError(f"--sql: {why}")


def first_line(error: Exception) -> str:
    """What DuckDB says, without the place in the text."""
    return str(error).splitlines()[0]


def _check(database: DuckDBPyConnection, tree: Any) -> None:
    nodes = list(_nodes(tree))
    named = {entry["key"].lower() for node in nodes for entry in _with(node)}
    named |= {str(node["ctename"]).lower() for node in nodes if "ctename" in node}
    taken = {name.lower() for (name,) in database.execute(_TAKEN).fetchall()}
    for name in sorted(named):
        if name in taken or not _PLAIN_NAME.fullmatch(name):
            raise refused(f'WITH "{name}": give it a plain name that no table has')
    allowed = {view.name for view in VIEWS} | named
    for node in nodes:
        _check_node(node, allowed)


_TAKEN = (
    "SELECT table_name FROM duckdb_tables() UNION SELECT view_name FROM duckdb_views() "
    "UNION SELECT function_name FROM duckdb_functions() WHERE function_type LIKE 'table%'"
)


def _with(node: dict[str, Any]) -> list[dict[str, Any]]:
    found = node.get("cte_map")
    return list(found["map"]) if isinstance(found, dict) else []


def _nodes(tree: Any) -> Iterator[dict[str, Any]]:
    """Every record of the tree."""
    todo = [tree]
    while todo:
        one = todo.pop()
        if isinstance(one, dict):
            yield one
            todo += one.values()
        elif isinstance(one, list):
            todo += one


def _check_node(node: dict[str, Any], allowed: set[str]) -> None:
    kind, group = node.get("type"), node.get("class")
    if group is not None and group not in _CLASSES:
        raise refused(
            f"{str(group).lower().replace('_', ' ')} is not understood here; write a plainer SELECT"
        )
    if group is None and isinstance(kind, str) and kind not in _NODES:
        raise refused(f"{kind.lower().replace('_', ' ')} is not understood here; write a plainer SELECT")
    if kind == "BASE_TABLE":
        _check_table(node, allowed)
    if kind == "TABLE_FUNCTION" and group is None:
        name = str(node["function"].get("function_name", "")).lower()
        if name not in TABLE_FUNCTIONS:
            raise refused(f"{name}() reads what is no view; ask {_views()}")
    elif "function_name" in node:
        _check_function(node)


def _check_table(node: dict[str, Any], allowed: set[str]) -> None:
    name = str(node["table_name"])
    if name.lower() not in allowed or node.get("schema_name") or node.get("catalog_name"):
        raise refused(f'"{name}" is no view; there are {_views()}')


def _check_function(node: dict[str, Any]) -> None:
    name = str(node["function_name"]).lower()
    if node.get("schema") or node.get("catalog"):
        raise refused(f"{name}: write functions without a schema")
    if name in FUNCTIONS or name in TABLE_FUNCTIONS or _operator(name):
        return
    raise refused(f"{name}() is not among the functions that may be used; docs/season.md lists them")


def _operator(name: str) -> bool:
    return bool(name) and not any(c.isalnum() or c == "_" for c in name.replace("~~", ""))


def _views() -> str:
    names = [view.name for view in VIEWS]
    return f"{', '.join(names[:-1])} and {names[-1]}"
