"""Imports point one way: cli -> whole jobs -> rooms -> optics, model."""

import ast
from pathlib import Path

import pytest

AUDIT = Path(__file__).parents[2] / "audit"
BASE = {"errors", "say", "__version__"}
MAY_IMPORT = {
    "optics": set(),
    "model": {"optics"},
    "disk": {"model"},
    "demo": set(),
    "scan": {"disk", "model", "optics"},
    "declare": {"disk", "model", "optics"},
    "measure": {"disk", "model", "optics"},
    "report": {"disk", "model", "optics"},
    "checks": {"model"},
}


def imported(file):
    """Rooms of audit that a file imports, wherever in it."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "audit":
            parts = node.module.split(".")
            yield from [parts[1]] if len(parts) > 1 else [alias.name for alias in node.names]


@pytest.mark.parametrize("room", MAY_IMPORT)
def test_a_room_imports_only_what_lies_below_it(room):
    for file in (AUDIT / room).rglob("*.py"):
        strangers = set(imported(file)) - {room} - MAY_IMPORT[room] - BASE
        assert not strangers, f"{file.relative_to(AUDIT.parent)} imports {', '.join(sorted(strangers))}"


def test_optics_is_numpy_only():
    for file in (AUDIT / "optics").rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not {n.split(".")[0] for n in names} & {"pandas", "pydantic", "PIL", "pathlib", "io", "os"}


def test_no_function_is_long():
    for file in AUDIT.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                words = len((ast.get_docstring(node) or "").splitlines())
                lines = node.end_lineno - node.lineno + 1 - words
                assert lines <= 45, f"{file.name}: {node.name} has {lines} lines"
