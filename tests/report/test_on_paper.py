"""The pages on paper: few of them, nothing folded away, no text outside its cell or a letter wide."""

from __future__ import annotations

import importlib
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from audit import report
from audit.jobs.audit import audit

MOST_PAGES = {"frames": 10, "print": 8}
"""A4 pages that the demo trip of 141 frames may take."""
PAPER_PX = 695
"""Width of A4 without its margins, at 96 px to the inch."""
KINDS = ("frames", "print", "findings", "2025-09-12", "index", "kit")

TEXT = "main :is(th, td, p, dd, dt, li, figcaption, summary, h1, h2, h3)"
OUTSIDE = """text => [...document.querySelectorAll(text)]
    .filter(e => e.checkVisibility() && e.clientWidth && e.scrollWidth > e.clientWidth + 2)
    .map(e => `${e.tagName} ${e.scrollWidth} > ${e.clientWidth}: ${e.textContent.trim().slice(0, 60)}`)"""
NARROW = """() => [...document.querySelectorAll("main :is(th, td)")]
    .filter(e => e.checkVisibility() && e.textContent.trim().length > 12)
    .filter(e => e.getBoundingClientRect().width < 3.5 * parseFloat(getComputedStyle(e).fontSize))
    .map(e => e.textContent.trim().slice(0, 60))"""
FOLDED = """() => [...document.querySelectorAll("main details:not([open])")].filter(d => d.checkVisibility())
    .filter(d => ![...d.children].slice(1).some(c => c.checkVisibility({ contentVisibilityAuto: true }))
        || getComputedStyle(d.querySelector("summary")).listStyleType !== "none")
    .map(d => d.textContent.trim().slice(0, 60))"""


@pytest.fixture(scope="module")
def run(skarven: Path, tmp_path_factory: pytest.TempPathFactory, browser: Any) -> Path:
    del browser  # where it is absent, nothing need be written
    return report.write(audit(skarven / "trip"), tmp_path_factory.mktemp("paper") / "out").run


@pytest.fixture
def sheet(browser: Any) -> Iterator[Any]:
    page = browser.new_page(viewport={"width": PAPER_PX, "height": 1000})
    yield page
    page.close()


@pytest.mark.parametrize("kind", MOST_PAGES)
def test_few_pages(run: Path, sheet: Any, kind: str) -> None:
    sheet.goto((run / f"{kind}.html").as_uri())
    printed = importlib.import_module("pypdf").PdfReader(io.BytesIO(sheet.pdf(prefer_css_page_size=True)))
    assert len(printed.pages) <= MOST_PAGES[kind]
    words = " ".join(page.extract_text() for page in printed.pages)
    assert "TARN9990" in words or "TARN9995" in words


@pytest.mark.parametrize("kind", KINDS)
def test_text_stays_in_its_cell_and_nothing_is_folded_away(run: Path, sheet: Any, kind: str) -> None:
    sheet.goto((run / f"{kind}.html").as_uri())
    sheet.emulate_media(media="print")
    assert sheet.evaluate(OUTSIDE, TEXT) == []
    assert sheet.evaluate(NARROW) == []
    assert sheet.evaluate(FOLDED) == []
