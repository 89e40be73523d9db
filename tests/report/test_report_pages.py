"""The report as pages: each whole, leading to the others, telling nothing private, hostile names as text."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from audit import report
from audit.report.days import FRAMES_A_PAGE

VOID = {"meta", "img", "link", "input"}
POLICY = (
    "default-src 'none'; img-src 'self'; style-src 'self'; script-src 'self'; "
    "base-uri 'none'; form-action 'none'"
)
KINDS = {"index", "findings", "frames", "print", "kit", "method", "passed-over", "no-time", "2026-05-02"}


class Page(HTMLParser):
    """Checks that every element is closed in turn, and keeps what the tests ask for."""

    def __init__(self, file: Path) -> None:
        super().__init__()
        self.text = file.read_text(encoding="utf-8")
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words = ""
        self.feed(self.text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag, (tag, self.getpos())

    def handle_data(self, data: str) -> None:
        self.words += data

    def all(self, name: str) -> list[str]:
        return [str(values[name]) for _, values in self.tags if values.get(name)]


def pages_of(out: Path) -> dict[str, Page]:
    files = sorted((out / "run-0001").glob("*.html"))
    return {file.stem: Page(file) for file in files if file.name != "open.html"}  # it only leads on


@pytest.fixture(scope="module")
def out(module_trip: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return report.write(module_trip, tmp_path_factory.mktemp("pages") / "out").out


@pytest.fixture(scope="module")
def pages(out: Path) -> dict[str, Page]:
    return pages_of(out)


def test_every_kind_of_page_is_there_and_in_the_contents(pages: dict[str, Page]) -> None:
    assert set(pages) >= KINDS
    for name, page in pages.items():
        nav = page.text[page.text.index('<nav class="pages"') :].partition("</nav>")[0]
        assert nav.count("aria-current") == 1, name


def links_lead(pages: dict[str, Page], out: Path) -> None:
    """Asserts that every link and picture of the pages leads to what exists."""
    ids = {name: page.all("id") for name, page in pages.items()}
    for name, page in pages.items():
        assert len(ids[name]) == len(set(ids[name])), name
        for href in page.all("href"):
            file, _, anchor = href.partition("#")
            target = (out / "run-0001" / file) if file else out / "run-0001" / f"{name}.html"
            assert target.exists(), (name, href)
            if anchor:
                assert anchor in ids[target.stem], (name, href)
        for src in page.all("src"):
            assert (out / "run-0001" / src).is_file(), src


def test_links_lead_to_what_exists(pages: dict[str, Page], out: Path) -> None:
    links_lead(pages, out)


def test_a_setup_over_midnight_leaves_no_dead_link(
    make_trip: Callable[..., Any], make_frame: Callable[..., Any], tmp_path: Path
) -> None:
    late = pd.Timestamp("2026-05-02 23:50")
    rows = [
        make_frame(f"N_000{n}", setup="S1", captured_at=late + pd.Timedelta(minutes=6 * n)) for n in range(4)
    ]
    out = report.write(replace(make_trip(rows), findings=()), tmp_path / "out").out
    found = pages_of(out)
    assert "2026-05-02" in found and "2026-05-03" not in found
    assert found["index"].text.count('class="strip"') == 2
    links_lead(found, out)


def test_pages_load_only_their_own_files(pages: dict[str, Page]) -> None:
    for name, page in pages.items():
        values = [v for t, v in page.tags if v.get("http-equiv") == "Content-Security-Policy"]
        assert [v["content"] for v in values] == [POLICY], name
        assert not re.search(r"https?:|@import", page.text), name
        assert not {"style", "iframe", "object", "base"} & {tag for tag, _ in page.tags}, name
        scripts = [v for t, v in page.tags if t == "script"]
        assert scripts == [{"src": "report.js", "defer": None}], name
        assert not [a for _, v in page.tags for a in v if a.startswith("on") or a == "style"], name


def test_pictures_are_small_lazy_and_described(pages: dict[str, Page], out: Path) -> None:
    images = [v for page in pages.values() for t, v in page.tags if t == "img"]
    assert images and all(v["loading"] == "lazy" and v["alt"] and v["width"] for v in images)
    for file in (out / "run-0001" / "pictures").iterdir():
        assert file.stat().st_size <= 40_000
        assert b"Exif" not in file.read_bytes()


def test_every_frame_and_finding_has_one_place(pages: dict[str, Page], module_trip: Any) -> None:
    anchors = [a for page in pages.values() for a in page.all("id")]
    for n in range(1, len(module_trip.frames) + 1):
        assert anchors.count(f"frame-{n}") == 1
    assert anchors.count("act-corners-1") == 1 and "act-corners-1" in pages["findings"].all("id")


def test_front_page_tells_causes_first(pages: dict[str, Page]) -> None:
    text = pages["index"].text
    assert (
        text.index("What to act on") < text.index("The trip in time") < text.index("Setups and their frames")
    )
    front = " ".join(pages["index"].words.split())
    assert "the 67 ring at 16 mm" in front
    assert "1 of 1 by a crop to 64 % of the picture" in front
    assert 'href="findings.html#act-corners-1"' in text


def test_hostile_text_appears_as_text(pages: dict[str, Page]) -> None:
    for name, page in pages.items():
        assert "<script>" not in page.text and "<img src=x" not in page.text, name
        assert "\u202e" not in page.text, name
    assert '<script>alert(1)</script>"><img src=x onerror=alert(2)>' in pages["frames"].words
    assert "\\u202egnp.exe" in pages["2026-05-02"].words


def test_nothing_private_is_told(out: Path, module_trip: Any, tmp_path: Path) -> None:
    for file in (p for p in out.rglob("*") if p.is_file()):
        assert b"SER3001234" not in file.read_bytes() and b"/home/" not in file.read_bytes(), file
    asked = report.write(module_trip, tmp_path / "asked", serials=True).out
    front = (asked / "run-0001" / "index.html").read_text(encoding="utf-8")
    assert "Serial numbers of bodies and lenses are shown" in front


def test_headings_in_order_and_tables_with_scope(pages: dict[str, Page]) -> None:
    for name, page in pages.items():
        levels = [int(t[1]) for t, _ in page.tags if re.fullmatch(r"h[1-6]", t)]
        assert levels[0] == 1 and levels.count(1) == 1, name
        assert all(b <= a + 1 for a, b in pairwise(levels)), name
        assert all("scope" in values for tag, values in page.tags if tag == "th"), name
        assert {"header", "nav", "main", "footer"} <= {tag for tag, _ in page.tags}, name
        assert set(page.all("aria-labelledby")) <= set(page.all("id")), name


def test_a_long_day_is_split_and_nothing_is_lost(
    make_trip: Callable[..., Any], make_frame: Callable[..., Any], tmp_path: Path
) -> None:
    rows = [make_frame(f"TARN{n:04d}", n, setup=f"s{n // 30}") for n in range(250)]
    pages = pages_of(report.write(make_trip(rows), tmp_path / "out").out)
    days = {name: page for name, page in pages.items() if name.startswith("2026-05-02")}
    assert sorted(days) == ["2026-05-02", *(f"2026-05-02-part-{n}" for n in (2, 3, 4))]
    counts = [len([a for a in p.all("id") if re.fullmatch(r"frame-\d+", a)]) for p in days.values()]
    assert sum(counts) == 250 and max(counts) <= FRAMES_A_PAGE


def test_an_empty_trip_is_still_a_report(empty_result: Any, tmp_path: Path) -> None:
    pages = pages_of(report.write(empty_result, tmp_path / "out").out)
    assert "No frame was found." in pages["index"].words and "No frame was found." in pages["frames"].words


def test_everything_known_of_a_frame_says_where_it_came_from(pages: dict[str, Page]) -> None:
    text = pages["2026-05-02"].text
    setup = text[text.index('id="frame-1"') :].partition("</section>")[0]
    told = " ".join(re.sub(r"<[^>]+>", " ", setup[setup.index("Everything known") :]).split())
    assert "as the file has it formats JPEG size bytes 4000000 byte" in told
    for said in ("exposure time 30 s", "exposure time ratio 30/1", "exposure time exact 32 s"):
        assert said in told
    assert "from the kit, else from open data" in told and "sensor width 35.9 mm" in told
    assert "body serial" not in told and "lens serial" not in told and "sky source" not in told
    assert "corner angle 53.47 deg" in told and "corner loss max no end" in told


def test_kit_tells_what_was_used_and_what_was_not(pages: dict[str, Page]) -> None:
    kit = " ".join(re.sub(r"<[^>]+>", " ", pages["kit"].text).split())
    assert "Lens w16 8 frames" in kit and "16 mm cut 1 frame" in kit
    assert "Filter g2hard" in kit
    assert "Carried, never declared as used: filter n6 ." in kit
