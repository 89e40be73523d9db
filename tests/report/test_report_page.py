from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

import pytest

from audit.report import render

VOID = {"meta", "img", "link", "br", "hr", "input"}
CLOSED = {"rect", "path", "circle", "use"}


class Page(HTMLParser):
    """Checks that every element is closed in turn, and keeps what the tests ask for."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._note(tag, attrs)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag in CLOSED, tag
        self._note(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag, (tag, self.getpos())

    def handle_data(self, data: str) -> None:
        if not {"style", "head"} & set(self.open):
            self.words.append(data)

    def _note(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = dict(attrs)
        self.tags.append((tag, values))
        if values.get("id"):
            self.ids.append(str(values["id"]))
        if str(values.get("href", "")).startswith("#"):
            self.links.append(str(values["href"])[1:])

    def section(self, name: str, text: str) -> str:
        start = text.index(f'aria-labelledby="{name}"')
        return text[start : text.index("</section>", start)]


@pytest.fixture
def html(result: Any) -> str:
    return render(result)


def test_page_is_well_formed_and_self_contained(html: str) -> None:
    page = Page(html)
    assert page.open == []
    assert not {"script", "link", "iframe", "object", "base", "form"} & {tag for tag, _ in page.tags}
    assert not re.search(r"https?:|//[a-z]+\.|@import|url\((?!#)", html)
    policy = next(v["content"] for t, v in page.tags if v.get("http-equiv") == "Content-Security-Policy")
    allowed = "img-src data:; style-src 'unsafe-inline'"
    assert policy == f"default-src 'none'; {allowed}; base-uri 'none'; form-action 'none'"
    for tag, values in page.tags:
        assert not [name for name in values if name.startswith("on")], tag
        assert str(values.get("src", "data:")).startswith("data:image/jpeg;base64,") or "src" not in values
        assert str(values.get("href", "#")).startswith("#")


def test_hostile_text_appears_as_text(html: str) -> None:
    words = "".join(Page(html).words)
    assert '<script>alert(1)</script>"><img src=x onerror=alert(2)>' in words
    assert "<script" not in html and "<img src=x" not in html
    assert "\\u202egnp.exe" in words and "\u202e" not in html
    assert "a\\x0ab" in words
    assert '=HYPERLINK("//x","y")' in words
    assert "caf\\xe9" in words


def test_nothing_private_is_told(html: str, result: Any) -> None:
    assert "SER3001234" not in html and "/home/" not in html
    asked = render(result, serials=True)
    assert "SER3001234L" in asked and "Serial numbers of bodies and lenses are shown" in asked


def test_anchors_resolve_both_ways(html: str, result: Any) -> None:
    page = Page(html)
    assert len(page.ids) == len(set(page.ids))
    assert set(page.links) <= set(page.ids)
    frames = set(result.frames["frame"])
    for n, finding in enumerate(result.findings, start=1):
        for name in set(finding.frames) & frames:
            anchor = f"frame-{list(result.frames['frame']).index(name) + 1}"
            rows = [i for i in page.ids if re.fullmatch(r"(act|look|note)-.*-\d+", i)]
            there = [r for r in rows if f'href="#{anchor}"' in _row(html, r)]
            back = [g for g in there if f'href="#{g}"' in _article(html, anchor)]
            assert there and back == there, (n, name)


def test_findings_are_grouped_by_cause(make_trip: Callable[..., Any], make_frame: Callable[..., Any]) -> None:
    trip = make_trip([make_frame(f"TARN{n:04d}", n) for n in range(60)])
    one = trip.findings[0]
    many = tuple(replace(one, frames=(f"DCIM/100BRAT/TARN{n:04d}",)) for n in range(60))
    html = render(replace(trip, findings=many))
    article = html[html.index('<article class="finding">') :].partition("</article>")[0]
    assert "60 frames." in article and "and 48 more" in article
    assert 'id="act-corners-1"' in html and 'id="act-corners-2"' not in html
    assert article.count("What to do:") == 1


def test_counts_are_shown_as_sums(html: str) -> None:
    counts = re.sub(r"<[^>]+>|\s+", " ", Page(html).section("counts", html))
    counts = re.sub(r" +", " ", counts)
    files = "files in 10 frames 12 passed over: sidecar + 2 passed over: shadow file + 1 files seen = 15"
    assert files in counts
    declared = (
        "declared 5 frames declared bare + 1 frames declared unknown + 1 frames undeclared + 3 frames = 10"
    )
    assert declared in counts


def test_frames_declared_without_a_neutral_are_counted_and_told_as_that(
    make_trip: Callable[..., Any], make_frame: Callable[..., Any]
) -> None:
    words = "no neutral, perhaps a grad or polariser"
    said = {"declaration": "no-neutral", "rig": None, "even_stops_min": None, "even_stops_max": None}
    said |= {"rig_words": words, "stops_words": words, "filters": [], "light_min_ev100": None}
    html = render(make_trip([make_frame("TARN1", 0), make_frame("TARN2", 1, **said)]))
    counts = re.sub(r"<[^>]+>|\s+", " ", Page(html).section("counts", html))
    assert "frames declared without a neutral + 1" in re.sub(r" +", " ", counts)
    assert words in _article(html, "frame-2")


def test_counts_that_do_not_add_up_are_said_to(result: Any) -> None:
    assert "in neither place" in render(replace(result, files_seen=result.files_seen + 1))


def test_numbers_say_how_sure_they_are(html: str) -> None:
    first = " ".join(re.sub(r"<[^>]+>", " ", _article(html, "frame-1")).split())
    assert "30 s, f/11, ISO 100 counted as 32 s, f/11.31; EV100 2" in first
    assert "2026-05-02 05:10:03, no zone" in first
    assert "12 in the sky declared" in first
    assert "nothing lost in the corner at best, black at worst predicted" in first
    assert "2.4 stops below its scene (up to 1.2 is normal)" in first
    assert "12 in the sky estimated" in " ".join(re.sub(r"<[^>]+>", " ", _article(html, "frame-5")).split())
    assert "Corners not measurable: the rig is undeclared" in _article(html, "frame-6")
    assert "thumbnail is damaged" in _article(html, "frame-7")
    assert "+02:00" in _article(html, "frame-5")


def test_kit_is_shown_with_what_was_assumed(html: str) -> None:
    kit = Page(html).section("kit", html)
    assert "density 3: 9.97 stops, sold as 10" in kit
    assert "factor 64: 6 stops, sold as 6" in kit
    assert "entrance pupil 17 to 32 mm behind the thread (assumed: pupil depth of w16)" in kit
    assert "bore of holder main: 85 mm wide, 11 mm before the thread (assumed: bore of main)" in kit


def test_caution_only_with_long_exposures(
    html: str, make_trip: Callable[..., Any], make_frame: Callable[..., Any]
) -> None:
    assert "Before the next long exposure" in html
    short = make_trip([make_frame(f"TARN{n}", exposure_time_s=t) for n, t in enumerate((29.0, None))])
    assert "Before the next long exposure" not in render(short)


def test_drawings_are_shared(make_trip: Callable[..., Any], make_frame: Callable[..., Any]) -> None:
    html = render(make_trip([make_frame(f"TARN{n:04d}", n) for n in range(20)]))
    assert html.count("<symbol ") == 1
    assert html.count('<use href="#c1"/>') == 20


def test_a_lens_that_the_kit_does_not_know_is_told(
    make_trip: Callable[..., Any], make_frame: Callable[..., Any]
) -> None:
    why = '"Sund 16-35 mm g4" is in no exif list of the kit'
    strange = {"lens_id": None, "lens_source": why}
    words = "lens not found in the kit: &#34;Sund 16-35 mm g4&#34;"
    assert words in render(make_trip([make_frame("TARN0001", **strange)]))
    assert words not in render(make_trip([make_frame("TARN0001", declaration="bare", **strange)]))


def test_light_says_whose_word_its_filters_are(
    make_trip: Callable[..., Any], make_frame: Callable[..., Any]
) -> None:
    light = {"light_min_ev100": 12.0, "light_max_ev100": 12.0, "light_residual_stops": 0.0}
    declared = render(make_trip([make_frame("TARN0001", **light)]))
    assert 'EV100 12, as its scene <span class="aside">from declared filters</span>' in declared
    drafted = render(make_trip([make_frame("TARN0001", declaration_source="estimated", **light)]))
    assert 'as its scene <span class="aside">from estimated filters</span>' in drafted


def test_an_exposure_that_reads_the_same_is_not_reckoned_twice(
    make_trip: Callable[..., Any], make_frame: Callable[..., Any]
) -> None:
    near = {"exposure_time_s": 0.05, "exposure_time_exact_s": 0.0496, "f_number_exact": 11.0}
    assert "counted as 1/20 s" not in render(make_trip([make_frame("TARN0001", **near)]))


def test_headings_in_order_and_tables_with_scope(html: str) -> None:
    page = Page(html)
    levels = [int(t[1]) for t, _ in page.tags if re.fullmatch(r"h[1-6]", t)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))
    assert all("scope" in values for tag, values in page.tags if tag == "th")
    assert all(values.get("alt") for tag, values in page.tags if tag == "img")
    assert {"header", "nav", "main", "footer"} <= {tag for tag, _ in page.tags}
    labels = [v["aria-labelledby"] for _, v in page.tags if "aria-labelledby" in v]
    assert set(labels) <= set(page.ids)


def _row(html: str, anchor: str) -> str:
    start = html.index(f'id="{anchor}"')
    return html[start : html.index("</tr>", start)]


def _article(html: str, anchor: str) -> str:
    start = html.index(f'id="{anchor}"')
    return html[start : html.index("</article>", start)]
