"""What is new, mended and still there since the run before, on the front page."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from audit import report
from audit.finding import Finding
from audit.report.since import read_before


def finding(check: str, *frames: str, level: str = "act") -> Finding:
    return Finding(check, level, frames, "seen", "expected", "measured", "Do it.")


@pytest.fixture
def front(
    tmp_path: Path, make_trip: Callable[..., Any], make_frame: Callable[..., Any]
) -> Callable[..., str]:
    """The front page after runs with these findings, one after the other, into one folder."""
    trip = make_trip([make_frame(f"TARN000{n}", n) for n in range(4)])

    def written(*runs: list[Finding], title: str | None = None) -> str:
        for n, found in enumerate(runs):
            result = replace(trip, findings=tuple(found), title=title if title and n else trip.title)
            placed = report.write(result, tmp_path / "out")
        return (placed.run / "index.html").read_text(encoding="utf-8")

    return written


ONE = finding("corners", "DCIM/100BRAT/TARN0000", "DCIM/100BRAT/TARN0001")
TWO = finding("light-leak", "DCIM/100BRAT/TARN0002", level="look")
NOTE = finding("diffraction", "DCIM/100BRAT/TARN0003", level="note")


def test_the_first_run_has_nothing_to_compare_with(front: Callable[..., str]) -> None:
    assert "Since run" not in front([ONE])


def test_new_mended_and_still_there(front: Callable[..., str]) -> None:
    three = finding("colour-cast", "DCIM/100BRAT/TARN0003")
    page = front([ONE, TWO], [replace(ONE, seen="in other words", by="more"), three, NOTE])
    assert "Since run-0001: 1 new, 1 mended, 1 still there." in page
    assert "(TARN0002)" in page
    assert page.count('<span class="new">new</span>') == 1


def test_all_mended_is_worth_a_sentence(front: Callable[..., str]) -> None:
    page = front([ONE, TWO], [NOTE])
    assert "Since run-0001: all is mended (2 mended)." in page
    assert "TARN0000 and 1 more" in page


def test_another_trip_in_the_same_folder_is_not_compared(front: Callable[..., str]) -> None:
    assert "Since run" not in front([ONE], [TWO], title="another")


@pytest.mark.parametrize("said", ["", "[]", "{}", '{"title": "x", "findings": [1]}', "[" * 100_000])
def test_what_cannot_be_read_is_no_run_before(
    tmp_path: Path, make_trip: Callable[..., Any], make_frame: Callable[..., Any], said: str
) -> None:
    placed = report.write(make_trip([make_frame("TARN0001", 0)]), tmp_path / "out")
    assert read_before(tmp_path / "out") is not None
    (placed.run / "findings.json").write_text(said)
    assert read_before(tmp_path / "out") is None
    assert read_before(tmp_path / "nowhere") is None
