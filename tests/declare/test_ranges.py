"""A range that is written as one name."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from audit.declare import add_gear
from audit.declare.index import frame_index
from audit.declare.spans import cover
from audit.declare.worn import Worn
from audit.kit.kit import Kit


@pytest.mark.parametrize(
    ("written", "counters"),
    [
        ("TARN9998-TARN0002", [9998, 9999, 1, 2]),
        ("TARN9998-0002", [9998, 9999, 1, 2]),
        ("tarn9999 \N{EN DASH} 0001", [9999, 1]),
        ("TARN9999.JPG-TARN0001.JPG", [9999, 1]),
        ("day1/TARN9999-01", [9999]),
        ("TARN9997", [9997]),
    ],
)
def test_a_range_is_its_two_ends(scanned: Any, run: Any, written: str, counters: list[int]) -> None:
    rows = run("day1", 9997, 3, "2026-05-02 10:00", body_serial="1")
    found = _covered(scanned(rows), written)
    assert found == (counters if written != "day1/TARN9999-01" else [])


def test_a_name_with_a_hyphen_is_a_name(scanned: Any) -> None:
    rows = [{"frame": f"day1/TARN-{n:04d}", "body_serial": "1"} for n in (1, 2, 3)]
    assert _covered(scanned(rows), "TARN-0002") == [2]
    assert _covered(scanned(rows), "TARN-0007") == []


def _covered(frames: Any, written: str) -> list[int]:
    table = add_gear(frames, Kit())
    rows = cover(Worn(files=(written,)), ".", frame_index(table)).rows
    return [int(n) for n in np.asarray(table["counter"].iloc[rows])]
