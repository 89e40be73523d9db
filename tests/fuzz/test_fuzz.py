"""Two thousand damaged files; `make fuzz` reads a hundred times as many (run.py)."""

from __future__ import annotations

from pathlib import Path

import pytest
from judge import judge
from mutate import DAMAGES, case
from starts import starts

CASES, AT_ONCE = 2000, 250


@pytest.mark.parametrize("first", range(0, CASES, AT_ONCE))
def test_whatever_is_fed_in_is_read_or_says_why_not(first: int, tmp_path: Path) -> None:
    assert list(judge(range(first, first + AT_ONCE), tmp_path)) == []


def test_a_number_is_a_case() -> None:
    assert [case(n).data for n in range(40)] == [case(n).data for n in range(40)]
    assert {case(n).name for n in range(len(starts()))} == set(starts())
    assert all(
        case(n).data != starts()[case(n).name] for n in range(0, 4000, 97) if len(case(n).done) == DAMAGES
    )
