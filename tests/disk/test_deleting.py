"""Every call in audit/ that removes or replaces a file says beside it why no photograph can be meant.

`pytest -s tests/disk/test_deleting.py` prints the list.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path

AUDIT = Path(__file__).parents[2] / "audit"
ALWAYS = {"unlink", "rmdir", "rmtree", "removedirs", "truncate", "ftruncate", "write_text", "write_bytes"}
OF_OS_OR_SHUTIL = {"remove", "rename", "renames", "replace", "move", "copy", "copy2", "copyfile", "copytree"}
WITH_ONE_ARGUMENT = {"rename", "replace"}
"""Of a path; those of texts, times and tables take two or are named."""
SQL = re.compile(r"\s*(DELETE|DROP|INSERT OR REPLACE|UPDATE)\b")
REASON = re.compile(r"# deletes: (.+)")


def deletes(node: ast.AST) -> bool:
    if isinstance(node, ast.Constant):
        return isinstance(node.value, str) and SQL.match(node.value) is not None
    if not isinstance(node, ast.Call):
        return False
    name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
    owner = getattr(getattr(node.func, "value", None), "id", "")
    if name in ALWAYS or (name in OF_OS_OR_SHUTIL and owner in ("os", "shutil")):
        return True
    if name == "open" or name == "FileIO" or name == "fdopen":
        return any(isinstance(a, ast.Constant) and set("wax+") & set(str(a.value)) for a in node.args)
    if name in WITH_ONE_ARGUMENT and owner not in ("dataclasses",) and isinstance(node.func, ast.Attribute):
        return len(node.args) == 1 and not node.keywords
    return False


def calls() -> Iterator[tuple[str, str]]:
    """Place, and the reason that stands in the call's lines or in the line above it."""
    for file in sorted(AUDIT.rglob("*.py")):
        text = file.read_text(encoding="utf-8")
        lines = text.splitlines()
        for node in ast.walk(ast.parse(text)):
            if deletes(node):
                around = lines[max(node.lineno - 2, 0) : node.end_lineno]
                found = [m[1] for line in around if (m := REASON.search(line))]
                place = f"{file.relative_to(AUDIT.parent)}:{node.lineno}"
                yield f"{place}: {lines[node.lineno - 1].split('#')[0].strip()}", found[-1] if found else ""


def test_each_deleting_call_says_why_it_is_safe() -> None:
    listed = dict(calls())
    sys.stdout.write("\n".join(f"{place}\n    {reason}" for place, reason in listed.items()))
    assert len(listed) >= 10  # else the search is blind
    assert [place for place, reason in listed.items() if not reason] == []


def test_no_tree_is_ever_removed_or_copied() -> None:
    for file in sorted(AUDIT.rglob("*.py")):
        assert "shutil" not in re.sub(r'""".*?"""', "", file.read_text(encoding="utf-8"), flags=re.S), file
