"""The pages in a browser, from disk: no network, no error; narrowing, picking, sorting, walking, links."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest

from audit import report
from audit.report.language import Language

KINDS = ["index", "findings", "frames", "2026-05-02", "print", "kit", "method", "passed-over"]


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Path:
    request.getfixturevalue("browser")
    trip = request.getfixturevalue("module_trip")
    return report.write(trip, tmp_path_factory.mktemp("pages") / "out").out


@contextmanager
def opened(browser: Any, file: Path, anchor: str = "", **how: Any) -> Iterator[Any]:
    """A page of its own; whatever the console says or the page asks of a network fails the test."""
    context = browser.new_context(**{"viewport": {"width": 1400, "height": 800}, **how})
    page = context.new_page()
    said: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(file.as_uri() + anchor)
    yield page
    context.close()
    assert said == []
    assert [url for url in asked if not url.startswith("file:")] == []


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("width", "scheme"), [(320, "light"), (360, "dark"), (768, "light"), (1400, "light")]
)
def test_no_page_is_wider_than_the_screen(
    browser: Any, out: Path, kind: str, width: int, scheme: str
) -> None:
    how = {"viewport": {"width": width, "height": 800}, "color_scheme": scheme}
    with opened(browser, out / "run-0001" / f"{kind}.html", **how) as page:
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        wide = "[...document.images].filter(i => i.offsetWidth > i.parentElement.offsetWidth).map(i => i.alt)"
        assert page.evaluate(wide) == []
        small = page.evaluate(
            """[...document.querySelectorAll("a:not(.skip), summary, select, input, button")]
            .map(e => [e.getBoundingClientRect(), e])
            .filter(([r]) => r.width && (r.height < 24 || r.width < 24)).map(([r, e]) => e.outerHTML)"""
        )
        assert small == []


def test_the_top_page_leads_to_the_newest_run_without_script(browser: Any, out: Path) -> None:
    with opened(browser, out / "report.html", java_script_enabled=False) as page:
        page.wait_for_url("**/run-0001/index.html")
        assert "What to act on" in page.inner_text("main")


def test_without_script_everything_is_reached_and_nothing_dangles(browser: Any, out: Path) -> None:
    with opened(browser, out / "run-0001" / "index.html", java_script_enabled=False) as page:
        page.click("#act ~ ol h3 a >> nth=0")
        assert page.url.endswith("findings.html#act-corners-1")
        assert page.locator("form.choose").is_hidden()
        page.click("#act-corners-1 .links a")
        assert page.url.endswith("2026-05-02.html#frame-4")
        assert page.locator(".frame:target").count() == 1


def test_a_mark_on_the_strip_leads_to_its_frame(browser: Any, out: Path) -> None:
    with opened(browser, out / "run-0001" / "index.html") as page:
        page.locator(".strip a").first.click()
        assert page.locator(".frame:target").count() == 1


def test_picking_by_level_stands_in_the_address_and_comes_back(browser: Any, out: Path) -> None:
    file = out / "run-0001" / "frames.html"
    with opened(browser, file) as page:
        page.select_option("select[name=level]", "act")
        shown = page.locator("tbody tr:visible").count()
        assert 0 < shown < page.locator("tbody tr").count()
        assert page.inner_text("output").startswith(f"{shown} of ")
        assert page.url.endswith("#level=act")
    with opened(browser, file, "#level=act") as page:
        assert page.locator("tbody tr:visible").count() == shown


def test_picking_a_rig_leaves_only_findings_on_it(browser: Any, out: Path) -> None:
    with opened(browser, out / "run-0001" / "findings.html") as page:
        page.select_option("select[name=rig]", label="ring r67, holder main: pol")
        rows = page.locator("tr[data-is]:visible")
        assert [rows.nth(n).get_attribute("id") for n in range(rows.count())] == ["act-corners-1"]
        page.select_option("select[name=rig]", "")
        assert page.locator("tr[data-is]:visible").count() == page.locator("tr[data-is]").count()


def test_sorting_by_a_number_both_ways_keeps_empty_cells_last(browser: Any, out: Path) -> None:
    with opened(browser, out / "run-0001" / "frames.html") as page:
        for way in ("ascending", "descending"):
            page.click("th button:text-is('EV100')")
            assert page.get_attribute("th:has(button:text-is('EV100'))", "aria-sort") == way
            cells = page.locator("tbody tr td:nth-child(6)").all_inner_texts()
            filled = [float(c) for c in cells if c]
            assert filled == sorted(filled, reverse=way == "descending")
            assert cells[: len(filled)] == [c for c in cells if c]


@pytest.mark.parametrize("width", [360, 768, 1400])
def test_rows_are_boxes_on_screen_and_share_a_table_in_print(browser: Any, out: Path, width: int) -> None:
    """On screen each row has the same columns of its own; paper gives each column what it needs."""
    widths = """[...document.querySelectorAll('.ledger tbody tr')].map(row => [...row.children]
        .map(cell => cell.getBoundingClientRect().width.toFixed(0)).join())"""
    with opened(browser, out / "run-0001" / "frames.html", viewport={"width": width, "height": 800}) as page:
        head = page.locator(".ledger thead")
        assert head.evaluate("e => getComputedStyle(e).display") == "block"
        assert len(set(page.evaluate(widths))) == 1
        page.emulate_media(media="print")
        assert head.evaluate("e => getComputedStyle(e).display") == "table-header-group"
        assert len(set(page.evaluate(widths))) == 1


LONG = """<!doctype html><html lang="{lang}"><meta charset="utf-8"><link rel="stylesheet" href="report.css">
<script src="report.js" defer></script><table class="ledger" data-sort>
<thead><tr><th>Frame</th><th>Time</th><th data-number>Light</th></tr></thead><tbody>{rows}</tbody></table>"""


@pytest.fixture
def long_table(out: Path, tmp_path: Path) -> Path:
    """2,000 frames in German: days as they are written there, light with a decimal comma and a minus sign."""
    days = [(f"2026-{n % 12 + 1:02d}-{n % 27 + 1:02d}", n) for n in range(2000)]
    light = [
        "" if n % 5 == 0 else f"{n % 40 / 4 - 4:.2f}".replace("-", "\N{MINUS SIGN}").replace(".", ",")
        for n in range(2000)
    ]
    rows = [
        f'<tr><th>N{n}</th><td data-order="{d}">{d[8:]}.{d[5:7]}.2026</td><td>{light[n]}</td></tr>'
        for d, n in days
    ]
    for name in ("report.css", "report.js"):
        (tmp_path / name).write_bytes((out / "run-0001" / name).read_bytes())
    (tmp_path / "long.html").write_text(LONG.format(lang="de", rows="".join(rows)), encoding="utf-8")
    return tmp_path / "long.html"


def column(page: Any, number: int) -> list[str]:
    cells = f"[...document.querySelectorAll('tbody tr > :nth-child({number})')].map(e => e.textContent)"
    return list(page.evaluate(cells))


def test_numbers_with_a_comma_and_days_in_words_are_sorted_by_what_they_are(
    browser: Any, long_table: Path
) -> None:
    with opened(browser, long_table) as page:
        page.click("th button:text-is('Light')")
        light = [float(c.replace(",", ".").replace("\u2212", "-")) for c in column(page, 3) if c]
        assert light == sorted(light) and light[0] == -4 + 1 / 4
        assert column(page, 3)[len(light) :] == [""] * 400
        page.click("th button:text-is('Time')")
        days = ["-".join(reversed(c.split("."))) for c in column(page, 2)]
        assert days == sorted(days)
        page.click("th button:text-is('Frame')")
        assert column(page, 1) == [f"N{n}" for n in range(2000)]


def test_equal_cells_keep_their_order_both_ways(browser: Any, long_table: Path) -> None:
    with opened(browser, long_table) as page:
        for _ in range(2):
            page.click("th button:text-is('Light')")
            alike: dict[str, list[int]] = {}
            for name, light in zip(column(page, 1), column(page, 3), strict=True):
                alike.setdefault(light, []).append(int(name[1:]))
            assert all(names == sorted(names) for names in alike.values())


def test_only_rows_near_the_screen_are_laid_out_and_all_can_be_reached(
    browser: Any, long_table: Path
) -> None:
    laid_out = """[...document.querySelectorAll('tbody th')]
        .filter(e => e.checkVisibility({contentVisibilityAuto: true})).length"""
    with opened(browser, long_table) as page:
        page.click("th button:text-is('Frame')")
        assert 0 < page.evaluate(laid_out) < 200
        page.locator("tbody tr").last.scroll_into_view_if_needed()
        page.wait_for_function("document.querySelector('tbody tr:last-child').innerText.includes('N1999')")
        page.emulate_media(media="print")
        page.wait_for_function(f"{laid_out} === 2000")


def test_full_stop_and_comma_walk_through_findings_and_can_be_turned_off(browser: Any, out: Path) -> None:
    at = "document.activeElement.id"
    with opened(browser, out / "run-0001" / "findings.html") as page:
        page.keyboard.press(".")
        first = page.evaluate(at)
        page.keyboard.press(".")
        assert first and page.evaluate(at) not in ("", first)
        page.keyboard.press(",")
        assert page.evaluate(at) == first
        page.keyboard.press("?")
        page.uncheck("dialog input[name=keys]")
        page.keyboard.press("Escape")
        assert page.url.endswith("#keys=off")
        for key in ".?/":
            page.keyboard.press(key)
            assert page.locator("dialog").is_hidden() and page.evaluate(at) == first


def test_walking_goes_on_from_where_the_reader_is(browser: Any, out: Path) -> None:
    """A deep link to a frame without findings, or the focus beside a finding, is no reason to start anew."""
    after = """from => document.activeElement.matches('.frame') && Boolean(
        document.querySelector(from).compareDocumentPosition(document.activeElement) & 4)"""
    with opened(browser, out / "run-0001" / "2026-05-02.html") as page:
        plain = page.locator(".frame[data-is~='level.none']").first.get_attribute("id")
        later = page.evaluate(
            """id => [...document.querySelectorAll('.frame:not([data-is~="level.none"])')]
            .some(e => document.getElementById(id).compareDocumentPosition(e) & 4)""",
            plain,
        )
    assert plain and later
    with opened(browser, out / "run-0001" / "2026-05-02.html", f"#{plain}") as page:
        page.keyboard.press(".")
        assert page.evaluate(after, f"#{plain}")


def test_the_dialog_tells_the_keys_and_is_not_there_without_script(browser: Any, out: Path) -> None:
    for kind in KINDS:
        with opened(browser, out / "run-0001" / f"{kind}.html", java_script_enabled=False) as page:
            assert page.locator("dialog, [data-keys], form, button").locator("visible=true").count() == 0, (
                kind
            )
    with opened(browser, out / "run-0001" / "frames.html") as page:
        page.click("[data-keys]")
        assert "opens the row" in page.inner_text("dialog")
        page.click("dialog button")
        assert page.locator("dialog").is_hidden()


def test_keys_alone_narrow_walk_pick_and_open(browser: Any, out: Path) -> None:
    with opened(browser, out / "run-0001" / "frames.html") as page:
        page.keyboard.press("/")
        page.keyboard.type("TARN")
        assert page.locator("tbody tr:visible").count() == 4
        page.keyboard.press("ArrowDown")
        page.keyboard.press("Space")
        page.keyboard.press("Shift+ArrowDown")
        page.keyboard.press("ArrowDown")
        assert page.url.endswith("#text=TARN&picked=1-2")
        assert page.locator("tr[data-taken]").count() == 2
        page.keyboard.press("Enter")
        page.wait_for_url("**/2026-05-02.html#at=frame-3&picked=1-2")
        page.wait_for_selector("#frame-3:focus")
        assert page.locator(".frame[data-taken]").count() == 2


def test_shift_picks_up_to_there_and_back_takes_it_back(browser: Any, out: Path) -> None:
    boxes = "tbody tr:visible .box"
    with opened(browser, out / "run-0001" / "frames.html") as page:
        page.locator(boxes).nth(1).click()
        page.locator(boxes).nth(4).click(modifiers=["Shift"])
        assert page.url.endswith("#picked=2-5")
        assert page.inner_text(".picked output") == "4 picked"
        page.select_option("select[name=level]", "act")
        assert page.url.endswith("#picked=2-5&level=act")
        page.check("input[name=only]")
        assert page.locator("tbody tr:visible").count() == 1
        page.go_back()
        page.go_back()
        assert page.url.endswith("#picked=2-5")
        assert page.locator("tbody tr:visible").count() == page.locator("tbody tr").count()
        page.go_back()
        assert page.locator("[data-taken]").count() == 0 and page.locator(".picked").is_hidden()
        page.go_forward()
        assert page.locator("[data-taken]").count() == 4


def test_a_finding_is_picked_whole(browser: Any, out: Path) -> None:
    with opened(browser, out / "run-0001" / "findings.html") as page:
        page.check("#look-corners-1 .box")
        assert page.url.endswith("#picked=1-2")
        page.locator("nav.pages a", has_text="All frames").click()
        page.wait_for_url("**/frames.html#picked=1-2")
        assert page.locator("tr[data-taken]").count() == 2
        page.locator("tbody tr .box").first.uncheck()
        page.go_back()
        page.go_back()
        assert page.locator("#look-corners-1 .box").is_checked()


def test_order_stands_in_the_address(browser: Any, out: Path) -> None:
    with opened(browser, out / "run-0001" / "frames.html") as page:
        page.select_option("select[name=sort]", "-loss")
        assert page.url.endswith("#sort=-loss")
        assert page.get_attribute("th[data-by=loss]", "aria-sort") == "descending"
        assert page.locator("tbody tr td:nth-child(9)").first.inner_text() == "cut"
        page.go_back()
        assert page.locator("[aria-sort]").count() == 0
        page.click("th button:text-is('Found')")
        assert page.locator("tbody tr td:nth-child(2)").first.inner_text() == "act"
        page.reload()
        assert page.get_attribute("th[data-by=found]", "aria-sort") == "ascending"


@pytest.mark.parametrize(
    ("facet", "words", "count"),
    [
        ("filter", "2-stop hard grad (g2hard)", 4),
        ("ring", "no ring", 2),
        ("holder", "main", 4),
        ("body", "body B", 3),
        ("check", "Corners behind the rig", 3),
        ("corner", "cut", 1),
    ],
)
def test_each_part_of_a_rig_and_each_finding_narrows(
    browser: Any, out: Path, facet: str, words: str, count: int
) -> None:
    with opened(browser, out / "run-0001" / "frames.html") as page:
        page.select_option(f"select[name={facet}]", label=words)
        assert page.locator("tbody tr:visible").count() == count
        page.click("text=Show all")
        assert page.locator("tbody tr:visible").count() == page.locator("tbody tr").count()


def test_what_is_picked_is_copied_and_saved(browser: Any, out: Path) -> None:
    how = {"accept_downloads": True, "permissions": ["clipboard-read", "clipboard-write"]}
    with opened(browser, out / "run-0001" / "frames.html", "#picked=1.4", **how) as page:
        page.click("text=Copy the names")
        page.wait_for_function("document.querySelector('.picked output').textContent.includes('2 lines')")
        assert page.evaluate("navigator.clipboard.readText()").split() == ["TARN0101", "TARN0104"]
        saved = {}
        for button in ("Save keep.txt", "Save as list of paths"):
            with page.expect_download() as download:
                page.click(f"text={button}")
            saved[download.value.suggested_filename] = Path(download.value.path()).read_text(encoding="utf-8")
    note, *lines = saved["keep.txt"].splitlines()
    assert note.startswith("# ") and lines == ["DCIM/100BRAT/TARN0101", "DCIM/100BRAT/TARN0104"]
    paths = ["DCIM/100BRAT/TARN0101.JPG", "DCIM/100BRAT/TARN0101.NEF", "DCIM/100BRAT/TARN0104.JPG"]
    assert saved["paths.txt"].splitlines() == paths


def test_a_finger_narrows_and_picks(browser: Any, out: Path) -> None:
    how = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}
    with opened(browser, out / "run-0001" / "frames.html", **how) as page:
        page.locator("summary", has_text="Narrow the list").tap()
        page.select_option("select[name=level]", "act")
        page.locator("tbody tr:visible .box").first.tap()
        page.locator("text=show only these").tap()
        assert page.locator("tbody tr:visible").count() == 1
        box = page.locator("tbody tr:visible .box").bounding_box()
        assert box is not None and min(box["width"], box["height"]) >= 24
        page.locator("text=Let them go").tap()
        assert page.locator(".picked").is_hidden() and page.url.endswith("#level=act")


def test_a_pick_outlives_the_skip_link_and_gives_way_to_a_link(browser: Any, out: Path) -> None:
    shown = "tr[data-is]:not([data-away])"
    with opened(browser, out / "run-0001" / "findings.html", "#level=note") as page:
        picked, all_rows = page.locator(shown).count(), page.locator("tr[data-is]").count()
        assert picked < all_rows
        page.focus(".skip")
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.id") == "main"
        page.reload()
        assert page.locator(shown).count() == picked
        assert page.locator("h2#act").is_hidden()
        hidden = page.locator("tr[data-is][data-away]").first.get_attribute("id")
        page.evaluate(f"location.hash = '#{hidden}'")
        page.wait_for_selector(f"#{hidden}", state="visible")
        assert page.locator(shown).count() == all_rows


def test_a_link_lands_where_its_head_is_seen(browser: Any, out: Path) -> None:
    with opened(browser, out / "run-0001" / "findings.html", "#act-exposure-sum-1") as page:
        page.wait_for_selector("#act-exposure-sum-1:focus")
        for what in ("#act-exposure-sum-1", "article:has(#act-exposure-sum-1) thead"):
            box = page.locator(what).bounding_box()
            assert box is not None and 0 <= box["y"] < 800, what


def test_an_unknown_pick_is_none(browser: Any, out: Path) -> None:
    asked = "#level=bogus&day=99&picked=0-9.x.7-3.-1&sort=none"
    with opened(browser, out / "run-0001" / "frames.html", asked) as page:
        every = "[...document.querySelectorAll('select[data-facet]')].every(s => s.selectedIndex === 0)"
        assert page.evaluate(every)
        assert page.locator("tr[data-away], tr[data-taken]").count() == 0


def test_exposures_and_corners_are_sorted_by_what_they_are(browser: Any, out: Path) -> None:
    with opened(browser, out / "run-0001" / "frames.html") as page:
        for head, number in (("Exposure", 5), ("Corners", 9)):
            page.click(f"th button:text-is('{head}')")
            cells = page.locator(f"tbody tr > :nth-child({number})")
            held = [c for c in cells.evaluate_all("all => all.map(c => c.dataset.order)") if c]
            assert len(set(held)) > 1 and held == sorted(held, key=float), head


def test_a_picked_list_says_so_on_paper(browser: Any, out: Path) -> None:
    with opened(browser, out / "run-0001" / "frames.html", "#level=act") as page:
        page.emulate_media(media="print")
        assert page.locator(".choose output").is_visible()


def test_prints_without_controls_and_all_frames_in_it(browser: Any, out: Path) -> None:
    for kind in KINDS:
        with opened(browser, out / "run-0001" / f"{kind}.html") as page:
            page.emulate_media(media="print")
            assert page.locator("nav.pages").is_hidden()
            assert page.locator("form label:visible, form button:visible, .box:visible").count() == 0
            assert page.pdf(prefer_css_page_size=True).startswith(b"%PDF")


AXE_FOUND = "axe.run(document, {resultTypes: ['violations']})"


def told_by_axe(page: Any) -> list[tuple[str, list[str]]]:
    """What axe finds on a page, by rule."""
    found = page.evaluate(AXE_FOUND)["violations"]
    return [(v["id"], [n["html"][:160] for n in v["nodes"][:3]]) for v in found]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("lang", "width", "scheme"),
    [("en", 1400, "light"), ("en", 1400, "dark"), ("en", 360, "light"), ("de", 360, "dark")],
)
def test_axe_finds_nothing(
    browser: Any, in_both: dict[str, Path], kind: str, lang: str, width: int, scheme: str
) -> None:
    """Once as it opens, and where there are rows once with some picked and the dialog open."""
    source = next(Path(axe_playwright_python.__file__).parent.rglob("axe.min.js")).read_text(encoding="utf-8")
    context = browser.new_context(
        viewport={"width": width, "height": 800}, color_scheme=scheme, bypass_csp=True
    )
    page = context.new_page()
    page.goto((in_both[lang] / "run-0001" / f"{kind}.html").as_uri())
    page.evaluate(source)
    assert told_by_axe(page) == []
    if page.locator(".box").count():
        page.locator(".box").first.check()
        assert told_by_axe(page) == []
        page.keyboard.press("?")
        page.wait_for_selector("dialog:modal")
        assert told_by_axe(page) == []
    context.close()


@pytest.fixture(scope="module")
def in_both(
    out: Path, tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest
) -> dict[str, Path]:
    """The report in both languages."""
    trip, language = request.getfixturevalue("module_trip"), Language("de")
    german = report.write(trip, tmp_path_factory.mktemp("german") / "out", language=language).out
    return {"en": out, "de": german}


@pytest.mark.parametrize("kind", ["findings", "frames", "2026-05-02"])
def test_what_is_picked_and_found_is_told_apart_in_forced_colours(browser: Any, out: Path, kind: str) -> None:
    with opened(browser, out / "run-0001" / f"{kind}.html", forced_colors="active") as page:
        page.locator(".box").first.check()
        style = "e => [getComputedStyle(e).outlineStyle, getComputedStyle(e).outlineWidth]"
        assert page.locator("[data-taken]").first.evaluate(style) == ["dashed", "2px"]
        fill = "e => getComputedStyle(e).backgroundColor + getComputedStyle(e).backgroundImage"
        signs = {level: page.locator(f".mark.{level} .sign") for level in ("act", "look", "note")}
        fills = [sign.first.evaluate(fill) for sign in signs.values() if sign.count()]
        assert len(fills) == len(set(fills)) >= 2
