"""docs/season.md names every view, column and function as they are."""

import re
from pathlib import Path

from audit.season.guard import FUNCTIONS, TABLE_FUNCTIONS
from audit.season.lost import CAUSES
from audit.season.views import VIEWS

PAGE = (Path(__file__).parents[2] / "docs" / "season.md").read_text(encoding="utf-8")


def test_every_view_is_told_as_it_is():
    told = PAGE[PAGE.index("### `archives`") : PAGE.index("### Functions")]
    head = "\n\n| column | type | unit | meaning |\n|---|---|---|---|\n"
    parts = []
    for view in VIEWS:
        rows = (f"| `{c.name}` | {c.kind} | {c.unit} | {c.meaning} |\n" for c in view.columns)
        parts.append(f"### `{view.name}`: a row is {view.one}{head}{''.join(rows)}\n")
    assert told == "".join(parts)


def test_every_function_is_told():
    functions, tables = PAGE[PAGE.index("casts, and: ") :].split("As tables: ")
    assert set(re.findall(r"\w+", functions.removeprefix("casts, and: "))) == FUNCTIONS
    assert set(re.findall(r"\w+", tables)) == TABLE_FUNCTIONS


def test_every_cause_is_told():
    assert all(f"`{cause}`" in PAGE for cause in CAUSES)
