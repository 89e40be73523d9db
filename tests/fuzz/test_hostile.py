"""Each file of fixtures/hostile once broke a promise; its README says which, and what is said of it now."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from judge import judge_file
from mutate import Case

from audit.kit.read import read_kit
from audit.pixels.sources import Sketches
from audit.scan.reader import read_file

HOSTILE = Path(__file__).parents[2] / "fixtures" / "hostile"
TABLE = re.findall(
    r"^\| `(.+?)` \| .+? \| (.+?) \|$", (HOSTILE / "README.md").read_text(encoding="utf-8"), re.M
)


def said_of(path: Path) -> str:
    if path.suffix == ".toml":
        return str(read_kit(path).mistakes)
    row = read_file(path)
    with Sketches(path.parent, "full") as sketches:
        why = sketches.why({"frame": path.stem, "files": [path.name], **row})
    return f"{row['problem']} {row['notes']} {why}"


@pytest.mark.parametrize(("name", "said"), TABLE)
def test_it_is_read_or_says_why_not(name: str, said: str, tmp_path: Path) -> None:
    assert said in said_of(HOSTILE / name)
    if not name.endswith(".toml"):
        data = bytearray((HOSTILE / name).read_bytes())
        assert judge_file(Case(0, name, data, touched=None), tmp_path) == []


def test_each_file_is_told() -> None:
    assert sorted(name for name, _ in TABLE) == sorted({p.name for p in HOSTILE.iterdir()} - {"README.md"})
