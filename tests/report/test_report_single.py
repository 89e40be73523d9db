"""The report in one plain file: its size, and what a long trip leaves out."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from audit import report
from audit.errors import AuditError
from audit.report import single
from audit.result import Result

Trip = Callable[[list[dict[str, Any]]], Result]
Frame = Callable[..., dict[str, Any]]


def shown(text: str) -> set[str]:
    return set(re.findall(r'<article class="frame[^>]*id="(frame-\d+)"', text))


@pytest.fixture
def long_trip(make_trip: Trip, make_frame: Frame) -> Result:
    return make_trip([make_frame(f"TARN{n:04d}", n) for n in range(101, 441)])


def test_it_is_plain_and_has_the_trip_in_time(result: Result) -> None:
    text = report.render(result)
    assert "<script" not in text and "<form" not in text and "<button" not in text
    assert 'class="strip"' in text and 'href="#strip"' in text
    assert "left-out" not in text and len(shown(text)) == len(result.frames)


def test_a_long_trip_shows_what_was_found_first(long_trip: Result) -> None:
    text = report.render(long_trip)
    assert len(text.encode()) <= single.MOST_BYTES
    assert len(shown(text)) == single.MOST_FRAMES
    assert {"frame-1", "frame-2", "frame-4"} <= shown(text)
    assert "40 frames are left out here" in text


def test_links_to_frames_left_out_lead_to_where_that_is_said(long_trip: Result) -> None:
    text = report.render(long_trip)
    ids = set(re.findall(r' id="([^"]+)"', text))
    assert set(re.findall(r'href="#([^"]+)"', text)) <= ids
    assert set(re.findall(r'href="#(frame-\d+)"', text)) <= shown(text)


def test_fewer_frames_where_they_weigh_much(long_trip: Result, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = len(report.render(long_trip).encode())
    monkeypatch.setattr(single, "MOST_BYTES", whole // 2)
    text = report.render(long_trip)
    assert len(text.encode()) <= whole // 2
    assert 0 < len(shown(text)) < single.MOST_FRAMES


def test_findings_that_weigh_too_much_are_refused(long_trip: Result, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(single, "MOST_BYTES", 1000)
    with pytest.raises(AuditError, match="--single"):
        report.render(long_trip)
