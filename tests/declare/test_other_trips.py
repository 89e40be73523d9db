"""Frames of another trip: set aside where nothing speaks against it, else not."""

from __future__ import annotations

from typing import Any

import pytest

from audit.declare import add_gear
from audit.kit.kit import Kit

BODY = {"body_serial": "1"}


def trip(first: int, count: int, day: str, **values: Any) -> list[dict[str, Any]]:
    rows = [
        {"frame": f"d/TARN{n:04d}", "counter": n, "captured_at": f"{day} 10:{n % 60:02d}:00", **BODY}
        for n in range(first, first + count)
    ]
    return [{**row, **values} for row in rows]


def told(scanned: Any, *parts: list[dict[str, Any]]) -> list[str]:
    column = add_gear(scanned([row for part in parts for row in part]), Kit())["other_trip"]
    return sorted(set(column.dropna()))


@pytest.mark.parametrize(
    ("what", "other", "expected"),
    [
        ("weeks before", trip(80, 5, "2026-03-02"), ["before"]),
        ("weeks after", trip(300, 5, "2026-07-02"), ["after"]),
        ("over the last number", trip(9990, 5, "2026-03-02"), ["before"]),
        ("a rest of five days", trip(300, 5, "2026-05-07"), []),
        ("a rest of thirteen days", trip(300, 5, "2026-05-15"), []),
        ("numbers after the trip, a date before it", trip(300, 5, "2026-03-02"), []),
        ("numbers within the trip", trip(103, 1, "2015-03-02"), []),
        ("a clock that started again", trip(80, 5, "2020-01-01"), []),
        ("a body that took no other frames", trip(80, 5, "2026-03-02", body_serial="2"), []),
        ("as many frames as the trip", trip(60, 20, "2026-03-02"), []),
    ],
)
def test_another_trip(scanned: Any, what: str, other: list[dict[str, Any]], expected: list[str]) -> None:
    rows = (
        trip(101, 20, "2026-05-02")
        if what != "numbers within the trip"
        else [*trip(101, 2, "2026-05-02"), *trip(104, 20, "2026-05-02")]
    )
    assert told(scanned, rows, other) == expected, what


def test_the_trips_own_numbers_may_start_again(scanned: Any) -> None:
    own = [*trip(9990, 10, "2026-05-02"), *trip(1, 30, "2026-05-03")]
    assert told(scanned, own, trip(9000, 5, "2026-03-02")) == ["before"]
    assert told(scanned, own, trip(9995, 1, "2026-03-02"), trip(12, 1, "2026-03-02")) == []
