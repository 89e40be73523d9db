"""Wrong kits and declarations: the one-line errors, exactly as printed.

Each file of fixtures/wrong/ is a kit (kit-*), a declaration read against the test kit (filters-*), or one
joined with the frames below (frames-*); the lines that must come out stand at its end after `#> `.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from audit.declare import add_gear, join, load
from audit.errors import DeclarationError, Mistake
from audit.kit.kit import Kit
from audit.message.text import made_of
from audit.report.language import Language

FIXTURES = Path(__file__).parents[2] / "fixtures"
KIT = FIXTURES / "kit.toml"
GERMAN = Language("de")
WRONG = sorted((FIXTURES / "wrong").glob("*.toml"))


@pytest.fixture(scope="module")
def table(scanned: Any, run: Any) -> pd.DataFrame:
    """Body A, 0101 to 0112 in two folders (0109 to 0112 with the long lens); body B, 0103, 0104, 0120."""
    a = {"body_serial": "3001234"}
    b = {"body_serial": "3009999"}
    return scanned(
        [
            *run("100BRAT", 101, 108, "2026-05-02 10:00", **a),
            *run("100BRAT", 109, 112, "2026-05-02 10:08", lens="Sund 70-200 mm f4", **a),
            *run("200BRAT", 103, 104, "2026-05-02 10:03:30", **b),
            *run("200BRAT", 120, 120, "2026-05-02 10:20", **b),
            *run("201BRAT", 109, 109, "2026-05-02 18:00", **a),
        ]
    )


def found(path: Path, kit: Kit, folder: Path, table: pd.DataFrame) -> Sequence[Mistake]:
    kind = path.name.split("-")[0]
    target = folder / ("kit.toml" if kind == "kit" else "filters.toml")
    target.write_bytes(path.read_bytes())
    try:
        loaded = load(folder, target if kind == "kit" else KIT)
    except DeclarationError as error:
        return error.mistakes
    if kind != "frames":
        return loaded.warnings
    return join(add_gear(table, kit), kit, loaded.declarations).mistakes


@pytest.mark.parametrize("path", WRONG, ids=lambda path: path.stem)
def test_says_exactly(path: Path, kit: Kit, tmp_path: Path, table: pd.DataFrame) -> None:
    expected = [line[3:] for line in path.read_text(encoding="utf-8").splitlines() if line.startswith("#> ")]
    assert expected, "the file must end with the lines it expects"
    assert [str(m) for m in found(path, kit, tmp_path, table)] == expected


@pytest.mark.parametrize("path", WRONG, ids=lambda path: path.stem)
def test_can_be_told_in_another_language(path: Path, kit: Kit, tmp_path: Path, table: pd.DataFrame) -> None:
    for mistake in found(path, kit, tmp_path, table):
        assert made_of(mistake.text) or GERMAN.tell(mistake.text) != mistake.text, mistake.text
