"""A long trip's print desk: pages that open at once, each reached from the others and from every frame."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import chain, pairwise
from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest

from audit import report
from audit.report.thumbnails import Thumbnail
from audit.report.view_frames import frame_links
from audit.report.view_print import PRINTS_A_PAGE, print_pages, print_view
from audit.result import Result

COUNT = 2 * PRINTS_A_PAGE + 10
FILES = ["print.html", "print-2.html", "print-3.html"]
CHOSEN = {"kept": "proposed", "kept_why": "best of 3 pictures of its setup: not clipped, corners clear"}
CROPPED = {"clean_crop": "600, 400, 4800, 3200", "clean_crop_share": 0.64}
MOST_BYTES = 1_000_000


def kept(make_frame: Any, count: int, **more: Any) -> list[dict[str, Any]]:
    """As many frames, each of its own setup and all chosen."""
    return [make_frame(f"TARN{n:04d}", n, setup=f"s{n}", **CHOSEN, **CROPPED, **more) for n in range(count)]


@pytest.fixture
def written(tmp_path: Path, make_trip: Any, make_frame: Any) -> Any:
    """Writes a report of so many prints and gives the folder of its pages."""

    def write(count: int, **more: Any) -> Path:
        out = report.write(make_trip(kept(make_frame, count, **more)), tmp_path / str(count)).out
        return next(out.glob("run-*"))

    return write


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory, module_trip: Result) -> Path:
    rows = module_trip.frames.iloc[[0] * COUNT].reset_index(drop=True)
    names = [f"TARN{n:04d}" for n in range(COUNT)]
    chosen = rows.assign(frame=names, files=[[f"{n}.JPG"] for n in names], setup=names, **CHOSEN, **CROPPED)
    trip = replace(module_trip, frames=chosen, findings=())
    out = report.write(trip, tmp_path_factory.mktemp("desk") / "out").out
    return next(out.glob("run-*"))


@pytest.fixture(scope="module")
def desk(run: Path) -> dict[str, str]:
    return {file: (run / file).read_text(encoding="utf-8") for file in FILES}


def anchors(html: str) -> list[str]:
    return re.findall(r'class="print-item" id="(print-\d+)"', html)


def test_every_print_stands_on_one_page_in_order(run: Path, desk: dict[str, str]) -> None:
    assert sorted(file.name for file in run.glob("print*.html")) == sorted(FILES)
    there = [anchors(html) for html in desk.values()]
    assert [len(found) for found in there] == [PRINTS_A_PAGE, PRINTS_A_PAGE, COUNT - 2 * PRINTS_A_PAGE]
    assert list(chain(*there)) == [f"print-{n}" for n in range(1, COUNT + 1)]


def test_a_page_of_the_most_and_longest_is_below_a_megabyte(written: Any) -> None:
    folder = "a folder with a very long name " * 6 + '<"&' * 20
    run = written(PRINTS_A_PAGE, folder=folder)
    assert len(anchors((run / "print.html").read_text(encoding="utf-8"))) == PRINTS_A_PAGE
    assert all(file.stat().st_size < MOST_BYTES for file in run.glob("print*.html"))


def test_pages_lead_to_the_ones_before_and_after(desk: dict[str, str]) -> None:
    for n, html in enumerate(desk.values()):
        turn = html[html.index('<nav class="turn"') :].partition("</nav>")[0]
        before, after = (re.findall(rf'<a href="([^"]+)" rel="{rel}">', turn) for rel in ("prev", "next"))
        assert before == FILES[n - 1 : n] and after == FILES[n + 1 : n + 2]
        listed = turn[turn.index("<details>") :]
        assert re.findall(r'<a href="([^"]+)">', listed) == [file for file in FILES if file != FILES[n]]
        assert listed.count('aria-current="page"') == 1
        contents = html[html.index('<nav class="pages"') :].partition("</nav>")[0]
        assert '<a href="print.html" aria-current="page">Print desk</a>' in contents
    assert f"before: pictures 1 to {PRINTS_A_PAGE}" in desk["print-2.html"]
    assert f"next: pictures {COUNT - 9} to {COUNT}" in desk["print-2.html"]
    assert "<h1>Print desk, part 2 of 3</h1>" in desk["print-2.html"]


def test_links_to_prints_lead_to_the_page_that_holds_them(run: Path, desk: dict[str, str]) -> None:
    led: dict[str, str] = {}
    for file in run.glob("*.html"):
        html = file.read_text(encoding="utf-8")
        for page, anchor in re.findall(r'href="([^"#]*)#(print-\d+|print-how|print)"', html):
            assert f'id="{anchor}"' in desk[page or file.name], (file.name, page, anchor)
            if page and anchor not in ("print", "print-how"):
                led[anchor] = page
    assert set(led) == {f"print-{n}" for n in range(1, COUNT + 1)}  # from each frame's own page
    assert {led[f"print-{n}"] for n in (PRINTS_A_PAGE, PRINTS_A_PAGE + 1, COUNT)} == set(FILES)


def test_how_to_read_stands_once_and_is_led_to(desk: dict[str, str]) -> None:
    first, *others = desk.values()
    assert "Pixels merge where" in first and f"{COUNT} pictures, one for each setup" in first
    for html in others:
        assert "Pixels merge where" not in html and 'href="print.html#print-how"' in html


def test_headings_come_in_order_and_names_are_whole(desk: dict[str, str]) -> None:
    for file, html in desk.items():
        levels = [int(level) for level in re.findall(r"<h([1-6])", html)]
        assert levels[0] == 1 and levels.count(1) == 1, file
        assert all(b <= a + 1 for a, b in pairwise(levels)), file
        ids = re.findall(r' id="([^"]+)"', html)
        assert len(ids) == len(set(ids)), file
        assert set(re.findall(r'aria-labelledby="([^"]+)"', html)) <= set(ids), file


def test_prints_that_fit_one_page_are_not_turned(written: Any) -> None:
    run = written(PRINTS_A_PAGE)
    html = (run / "print.html").read_text(encoding="utf-8")
    assert [file.name for file in run.glob("print*.html")] == ["print.html"]
    assert "<h1>Print desk</h1>" in html and 'class="turn"' not in html and 'rel="next"' not in html
    assert "pictures 1 to" not in html


def test_one_page_for_all_holds_all(make_trip: Any, make_frame: Any) -> None:
    html = report.render(make_trip(kept(make_frame, COUNT)))
    assert anchors(html) == [f"print-{n}" for n in range(1, COUNT + 1)]
    assert "print-2.html" not in html and html.count("Pixels merge where") == 1


@pytest.mark.parametrize(
    ("count", "held"),
    [
        (0, [("print.html", "", 0)]),
        (1, [("print.html", "picture 1", 1)]),
        (
            PRINTS_A_PAGE + 1,
            [
                ("print.html", f"pictures 1 to {PRINTS_A_PAGE}", PRINTS_A_PAGE),
                ("print-2.html", f"picture {PRINTS_A_PAGE + 1}", 1),
            ],
        ),
    ],
)
def test_pages_say_what_they_hold(make_trip: Any, make_frame: Any, count: int, held: Any) -> None:
    trip = make_trip(kept(make_frame, count))
    view = print_view(trip, frame_links(trip.frames), lambda row: Thumbnail(reason="none"))
    parts = print_pages(view.items, "print.html")
    assert [(part.file, part.holds, len(part.items)) for part in parts] == held


def test_without_script_the_pages_are_walked(browser: Any, run: Path) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((run / "print.html").as_uri())
    for file in FILES[1:]:
        page.click("nav.turn a[rel=next]")
        page.wait_for_url(f"**/{file}")
    page.click("nav.turn summary")
    page.click("nav.turn details a >> nth=0")
    page.wait_for_url("**/print.html")
    page.click("main p a[rel=next]")
    page.wait_for_url("**/print-2.html")
    page.goto(f"{(run / 'print-2.html').as_uri()}#print-{PRINTS_A_PAGE + 60}")
    assert page.locator(".print-item:target").count() == 1
    context.close()


@pytest.mark.parametrize(("width", "scheme"), [(360, "dark"), (1400, "light")])
def test_a_further_page_is_accessible_and_fits(browser: Any, run: Path, width: int, scheme: str) -> None:
    source = next(Path(axe_playwright_python.__file__).parent.rglob("axe.min.js")).read_text(encoding="utf-8")
    context = browser.new_context(
        viewport={"width": width, "height": 800}, color_scheme=scheme, bypass_csp=True
    )
    page = context.new_page()
    page.goto((run / FILES[-1]).as_uri())
    page.click("nav.turn summary")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.evaluate(source)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
    context.close()
    assert [(v["id"], [n["html"][:160] for n in v["nodes"][:3]]) for v in found] == []
