"""Imports point one way: each room imports only rooms before it."""

import ast
from pathlib import Path

import pytest

AUDIT = Path(__file__).parents[2] / "audit"
ORDER = (
    *(
        "errors",
        "message",
        "table",
        "optics",
        "disk",
        "crew",
        "toml",
        "kit",
        "scan",
        "declare",
        "exposure",
        "corners",
    ),
    *(
        "pixels",
        "pictures",
        "prints",
        "xmp",
        "finding",
        "checks",
        "check",
        "result",
        "report",
        "archive",
        "season",
        "demo",
        "scale",
        "jobs",
        "pipeline",
    ),
    *("start", "cli"),
)
"""A room or a module beside the rooms, from the lowest to the highest."""
ALONE = {"optics", "demo"}
"""Import nothing of the others but messages and errors: the simulator and the formulae can disagree."""


def imported(file):
    """Rooms of audit that a file imports, wherever in it."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "audit":
            parts = node.module.split(".")
            yield from [parts[1]] if len(parts) > 1 else [alias.name for alias in node.names]


def rooms():
    """Each file of the package with its room."""
    for file in sorted(AUDIT.rglob("*.py")):
        room = file.relative_to(AUDIT).with_suffix("").parts[0]
        if room not in ("__init__", "__main__"):
            yield room, file


def test_every_room_has_its_place():
    assert {room for room, _ in rooms()} == set(ORDER)


@pytest.mark.parametrize("room", ORDER)
def test_a_room_imports_only_what_lies_below_it(room):
    below = ("errors", "message") if room in ALONE else ORDER[: ORDER.index(room)]
    for file in (file for other, file in rooms() if other == room):
        strangers = set(imported(file)) - {room, *below, "__version__"}
        strangers -= {"cli"} if room == "start" else set()  # begins the command, once it can be told to stop
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
