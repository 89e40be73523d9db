from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from audit.report import write


@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Path:
    request.getfixturevalue("browser")
    trip = request.getfixturevalue("module_trip")
    return write(trip, tmp_path_factory.mktemp("browser") / "out", single=True).page


@pytest.mark.parametrize("width", [320, 360, 768, 1400])
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("script", [True, False])
def test_opens_from_disk(browser: Any, page_file: Path, width: int, scheme: str, script: bool) -> None:
    context = browser.new_context(
        viewport={"width": width, "height": 800}, color_scheme=scheme, java_script_enabled=script
    )
    page = context.new_page()
    said: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(page_file.as_uri())
    box = page.locator("html").bounding_box()
    assert box is not None and box["width"] <= width
    if script:
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert said == []
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_has_contrast(browser: Any, page_file: Path, scheme: str) -> None:
    """Ratio of each text colour to its ground, WCAG 2.2 relative luminance; 4.5 is wanted."""
    context = browser.new_context(color_scheme=scheme)
    page = context.new_page()
    page.goto(page_file.as_uri())
    low = page.evaluate(CONTRAST)
    context.close()
    assert low == []


def test_links_are_large_enough_to_hit(browser: Any, page_file: Path) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 800})
    page = context.new_page()
    page.goto(page_file.as_uri())
    small = page.evaluate(
        """[...document.querySelectorAll("a:not(.skip), summary")]
        .filter(e => e.getBoundingClientRect().height < 24 || e.getBoundingClientRect().width < 24)
        .map(e => e.outerHTML)"""
    )
    context.close()
    assert small == []


def test_links_lead_to_frames_and_back(browser: Any, page_file: Path) -> None:
    context = browser.new_context(viewport={"width": 1400, "height": 800})
    page = context.new_page()
    page.goto(page_file.as_uri())
    page.click("#act-corners-1 .links a")
    assert page.locator(".frame:target").count() == 1
    page.click(".frame:target .found a")
    assert page.locator(".finding tr:target").count() == 1
    context.close()


def test_prints_on_a4_without_split_frames(browser: Any, page_file: Path) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(page_file.as_uri())
    page.emulate_media(media="print")
    assert page.locator(".frame").first.evaluate("e => getComputedStyle(e).breakInside") == "avoid"
    assert page.locator("thead").first.evaluate("e => getComputedStyle(e).display") == "table-header-group"
    assert page.pdf(prefer_css_page_size=True).startswith(b"%PDF")
    context.close()


CONTRAST = """(() => {
  const parts = c => (c.match(/[\\d.]+/g) || []).map(Number);
  const light = ([r, g, b]) => [r, g, b].map(v => v / 255)
    .map(v => v <= .04045 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4)
    .reduce((sum, v, i) => sum + v * [.2126, .7152, .0722][i], 0);
  const ground = e => {
    for (; e; e = e.parentElement) {
      const c = parts(getComputedStyle(e).backgroundColor);
      if (c.length === 3 || c[3] > 0) return c;
    }
    return [255, 255, 255];
  };
  const bad = [];
  for (const e of document.querySelectorAll("body *")) {
    if (![...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()) || e.closest("svg")) continue;
    const [a, b] = [light(parts(getComputedStyle(e).color)), light(ground(e))].sort((x, y) => y - x);
    if ((a + .05) / (b + .05) < 4.5) bad.push(e.outerHTML.slice(0, 100));
  }
  return bad;
})()"""
