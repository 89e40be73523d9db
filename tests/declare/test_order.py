"""Capture order: counters within a card, time between cards."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.declare.index import IndexedFrame, capture_order

HOUR = 3_600_000_000


def order(*shots: tuple[str, int | None, float | None]) -> list[int]:
    """Shots as (folder, counter, hour); the order as row numbers."""
    rows = [
        IndexedFrame(row, folder, counter, None if hour is None else int(hour * HOUR), f"{folder}/{row:03d}")
        for row, (folder, counter, hour) in enumerate(shots)
    ]
    return capture_order(rows)


CASES: dict[str, tuple[list[tuple[str, Any, Any]], list[int]]] = {
    "wrap within a folder": ([("a", 1, 11), ("a", 2, 12), ("a", 9998, 9), ("a", 9999, 10)], [2, 3, 0, 1]),
    "wrap without times": ([("a", 1, None), ("a", 2, None), ("a", 9999, None)], [2, 0, 1]),
    "wide gap is no wrap": ([("a", 1, 9), ("a", 2, 10), ("a", 9000, 11)], [0, 1, 2]),
    "wide gap is a wrap by the clock": ([("a", 1, 11), ("a", 2, 12), ("a", 9000, 9)], [2, 0, 1]),
    "folders by date are no card": ([("20260503", 1, 9), ("20260502", 2, 10)], [0, 1]),
    "folder change of a card": ([("101BRAT", 1, 11), ("100BRAT", 9999, 10)], [1, 0]),
    "folder number beats a clock set back": ([("100BRAT", 5, 11), ("101BRAT", 6, 9)], [0, 1]),
    "counter beats a clock set back": ([("a", 5, 11), ("a", 6, 9), ("a", 7, 10)], [0, 1, 2]),
    "two cards go by time": ([("c1/100BRAT", 8, 11), ("c2/100BRAT", 5, 9), ("c1/100BRAT", 9, 12)], [1, 0, 2]),
    "folders by subject interleave": ([("grads", 1, 9), ("grads", 3, 11), ("bare", 2, 10)], [0, 2, 1]),
    "no time, by its counter": ([("a", 1, 9), ("a", 2, None), ("a", 3, 10), ("b", 7, 9.5)], [0, 1, 3, 2]),
    "no counter, by its time": ([("a", 1, 9), ("a", 2, 11), ("a", None, 10)], [0, 2, 1]),
    "same second, by counter": ([("x", 2, 9), ("y", 1, 9)], [1, 0]),
}


@pytest.mark.parametrize(("shots", "expected"), CASES.values(), ids=CASES.keys())
def test_order(shots: list[tuple[str, Any, Any]], expected: list[int]) -> None:
    assert order(*shots) == expected


SHOTS = st.tuples(
    st.sampled_from(["100BRAT", "101BRAT", "c/100BRAT", "day1", "day2"]),
    st.none() | st.integers(0, 12000),
    st.none() | st.integers(0, 50),
)


@given(st.lists(SHOTS, max_size=30))
def test_every_frame_once(shots: list[tuple[str, Any, Any]]) -> None:
    assert sorted(order(*shots)) == list(range(len(shots)))
