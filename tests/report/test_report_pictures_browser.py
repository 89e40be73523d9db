"""Larger views in a browser without script: one click from cause to corner, switches, sizes, both themes."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest

from audit import report

sys.path.insert(0, str(Path(__file__).parents[1] / "pictures"))
from marked import held, jpeg

AXE = Path(axe_playwright_python.__file__).parent / "axe.min.js"


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Path:
    request.getfixturevalue("browser")
    trip = request.getfixturevalue("module_trip")
    place = tmp_path_factory.mktemp("pictures")
    dump = place / "dump"
    for row in trip.rows:
        for file in row["files"]:
            if row["problem"] is None and file.endswith(".JPG"):
                (dump / file).parent.mkdir(parents=True, exist_ok=True)
                (dump / file).write_bytes(jpeg(held((1500, 1000)), int(row["orientation"])))
    return report.write(replace(trip, dump=dump, pixels="preview"), place / "out").run


def test_one_click_from_cause_to_corners_and_back_without_script(browser: Any, run: Path) -> None:
    page = browser.new_page(viewport={"width": 1400, "height": 900}, java_script_enabled=False)
    page.goto((run / "index.html").as_uri())
    page.locator(".cause .larger").first.click()
    assert page.url.endswith("#corners")
    assert page.locator("#corners").is_visible()
    cuts = page.locator(".four img")
    assert cuts.count() == 4
    for n in range(4):
        box = cuts.nth(n).bounding_box()
        assert box["width"] == box["height"] == 240, "one pixel of the file is one of the page"
    page.locator("header a").first.click()
    assert "/2026-05-02.html#frame-" in page.url
    page.close()


def test_switches_work_without_script(browser: Any, run: Path) -> None:
    page = browser.new_page(viewport={"width": 1400, "height": 900}, java_script_enabled=False)
    page.goto((run / "views" / "4.html").as_uri())
    for name in ("cut", "crop"):
        layer = page.locator(".over.cut" if name == "cut" else ".crop-on")
        assert not layer.is_visible()
        page.locator(f"#over-{name}").check()
        assert layer.is_visible()
        picture, drawn = page.locator(".layers img").bounding_box(), layer.bounding_box()
        assert all(abs(picture[side] - drawn[side]) < 1 for side in picture)
    assert page.locator("#over-dark").count() == 0
    assert "Darkness not measured" in page.text_content(".switches")
    page.close()


@pytest.mark.parametrize(("width", "scheme"), [(320, "dark"), (360, "light"), (768, "light"), (1400, "dark")])
def test_views_fit_and_are_accessible(browser: Any, run: Path, width: int, scheme: str) -> None:
    for view in sorted((run / "views").glob("*.html"))[:4]:
        context = browser.new_context(
            viewport={"width": width, "height": 800}, color_scheme=scheme, bypass_csp=True
        )
        page = context.new_page()
        asked: list[str] = []
        page.on("request", lambda request, asked=asked: asked.append(request.url))
        page.goto(view.as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        small = page.evaluate(
            """[...document.querySelectorAll("a, label")].map(e => [e.getBoundingClientRect(), e])
            .filter(([r]) => r.width && (r.height < 24 || r.width < 24)).map(([r, e]) => e.outerHTML)"""
        )
        assert small == []
        page.add_script_tag(path=str(AXE))
        found = page.evaluate("axe.run().then(r => r.violations.map(v => v.id + ' ' + v.nodes[0].html))")
        assert found == []
        assert all(url.startswith("file:") for url in asked)
        context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_picture_area_of_a_corner_drawing_is_light(browser: Any, run: Path, scheme: str) -> None:
    page = browser.new_page(color_scheme=scheme)
    page.goto((run / "2026-05-02.html").as_uri())
    fill = page.evaluate("getComputedStyle(document.querySelector('symbol .sheet')).fill")
    assert fill == "rgb(255, 254, 250)"
    page.close()
