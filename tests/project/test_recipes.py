"""Each recipe of DEVELOPERS.md followed to the letter in a copy of the project."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
BLOCK = re.compile(r"^```(\w+) ?(\S*)\n(.*?)^```", re.M | re.S)
LEFT_OUT = {".git", ".venv", ".hypothesis", ".mypy_cache", ".pytest_cache", ".ruff_cache", "__pycache__"}


def recipes():
    """Title and blocks (language, file, text) of each recipe."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("\n## Recipes\n")[2]
    return [pytest.param(BLOCK.findall(p), id=p.splitlines()[0]) for p in text.split("\n### ")[1:]]


@pytest.fixture
def copy(tmp_path):
    """The project without its history, with the tools of this run."""
    there = tmp_path / "cornerstop"
    shutil.copytree(ROOT, there, ignore=lambda _, names: LEFT_OUT & set(names))
    (there / ".venv").symlink_to(sys.prefix)
    for file in ("pyproject.toml", ".lock/dev.txt"):
        os.utime(there / file, (0, 0))  # else make would set the tools up again
    return there


def added(text, block):
    """The text with the lines of a block that begin with + where the others stand."""
    lines = block.splitlines(keepends=True)
    old, new = ("".join(x[1:] for x in lines if x[0] in kind) for kind in (" ", " +"))
    assert text.count(old) == 1, f"found {text.count(old)} times:\n{old}"
    return text.replace(old, new)


@pytest.mark.parametrize("blocks", recipes())
def test_followed_to_the_letter(blocks, copy):
    ways = {"PYTHONPATH": str(copy), "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"}
    ran = 0
    for language, file, text in blocks:
        path = copy / file
        if language == "diff":
            path.write_text(added(path.read_text(encoding="utf-8"), text), encoding="utf-8")
        elif file:
            assert not path.exists()
            path.write_text(text, encoding="utf-8")
        else:
            done = subprocess.run(
                ["sh", "-ec", text], cwd=copy, env=os.environ | ways, capture_output=True, text=True
            )
            assert done.returncode == 0, done.stdout + done.stderr
            ran += 1
    assert ran
    names = [str(copy / file) for _, file, _ in blocks if file.endswith(".py")]
    lint = [sys.executable, "-m", "ruff", "check", *names]
    done = subprocess.run(lint, cwd=copy, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout


def test_each_thing_has_its_recipe():
    told = [param.id for param in recipes()]
    things = ("check", "column", "page", "camera format", "unit", "language", "command")
    assert told == [f"Add a {thing}" for thing in things]
