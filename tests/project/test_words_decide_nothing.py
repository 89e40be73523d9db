"""A message is for the reader: with every one of them changed, no number, level or exit code is another."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from mutate_words import CODES, EVERY, changed, differences, run, write_part


@pytest.fixture(scope="module")
def dump(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_part(tmp_path_factory.mktemp("words") / "demo", days=1)


def test_with_other_words_nothing_else_changes(dump: Path) -> None:
    plain, other = run(dump, ""), run(dump, EVERY)
    assert other["messages"] > 500
    assert differences(plain, other) == []


def test_a_change_leaves_placeholders_and_codes_and_nothing_else() -> None:
    other = changed("bore of {part}, {loss:.1f} stops")
    assert "bore" not in other and "stops" not in other
    assert other.format(part="X", loss=2.0).count("X") == 1 and "2.0" in other.format(part="X", loss=2.0)
    assert all(changed(code) == code for code in CODES)
