"""The page of a shelf: nothing acts, others' words are shown as they are, and all else is told in German."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path

from audit.report.language import Language
from audit.scale.audits import Audited, Audits
from audit.scale.page import page_text, summary

HOSTILE = "<script>alert(1)</script>\u202e"
COUNTS = {"frames": 3, "findings_by_level": {"act": 1, "look": 0, "note": 2}}


def trip(name: str, *, run: bool = True, said: str = "", day: int = 2) -> Audited:
    begins, ends = datetime(2026, 5, day, 6), datetime(2026, 5, day + 1, 7)
    if not run:
        return Audited(name, (name,), None, None, 2, said)
    return Audited(name, (name, f"{name} B"), begins, ends, 1, "", f"trips/{name}/run-0001", name, COUNTS, 1)


def shelf(*trips: Audited) -> Audits:
    left = (
        (f"{HOSTILE}.JPG", "a folder of reports"),
        ("x", "not read: it lies beside the trips, in none of their folders"),
    )
    return Audits(HOSTILE, trips, (HOSTILE,), left)


def test_what_could_not_be_audited_comes_first_then_by_time(tmp_path: Path) -> None:
    page = page_text(
        shelf(trip("late", day=9), trip("early"), trip("broken", run=False, said="why")), tmp_path
    )
    assert page.index(">broken<") < page.index(">early<") < page.index(">late<")
    assert "2026-05-02 to 2026-05-03" in page and "why" in page


def test_pictures_are_spread_over_those_of_the_report(tmp_path: Path) -> None:
    pictures = tmp_path / "trips" / "a" / "run-0001" / "pictures"
    pictures.mkdir(parents=True)
    for number in range(1, 12):
        (pictures / f"p{number}.jpg").touch()
    page = page_text(shelf(trip("a")), tmp_path)
    assert re.findall(r'src="\.\./trips/a/run-0001/pictures/(\w+)\.jpg"', page) == ["p1", "p4", "p7", "p11"]


def test_nothing_on_it_acts_and_words_of_others_are_shown(tmp_path: Path) -> None:
    page = page_text(shelf(trip("a b&c"), trip("broken", run=False, said=HOSTILE)), tmp_path)
    assert "<script" not in page and "\u202e" not in page and "http" not in page.replace("http-equiv", "")
    assert page.count("&lt;script&gt;") == 4
    assert 'href="../trips/a%20b%26c/run-0001/index.html"' in page
    assert "default-src 'none'; style-src 'self'; img-src 'self'" in page
    assert not re.search(r"\son\w+=|\sstyle=", page)


def test_all_of_it_is_told_in_german(tmp_path: Path) -> None:
    found = shelf(trip("a"), trip("x", run=False))
    page = re.sub(r"<[^>]*>", " ", page_text(found, tmp_path, Language("de")))
    for word in (" the ", " of ", " frame", " trip", "audited", " folder"):
        assert word not in page, word


def test_the_summary_counts() -> None:
    assert summary(shelf(trip("a"), trip("b"), trip("x", run=False))) == (
        "3 trips.",
        "5 folders of the shelf.",
        "6 frames.",
        "2 trips with something to act on.",
        "1 trip could not be audited.",
    )
