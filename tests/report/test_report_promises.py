"""What the report promises of any dump, from files on disk to pages: hostile text stays text, nothing private
leaves, the same input gives the same bytes, whatever is missing, and the answers are a few clicks away."""

from __future__ import annotations

import csv
import io
import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import unquote_to_bytes

import pyarrow.parquet as pq
import pytest
from PIL import Image

from audit import report
from audit.cli.entry import run
from audit.demo.exif_block import (
    ASCII,
    EXIF_POINTER,
    GPS_POINTER,
    Directory,
    Value,
    ratio,
    raw_bytes,
    short,
    text,
    thumbnail_directory,
    tiff_block,
    with_exif,
)
from audit.disk.marker import OUTPUT_MARKER
from audit.jobs.audit import audit
from audit.result import Result

SCRIPT, BROKEN_OUT = "<script>alert(1)</script>", '"><img src=x onerror=alert(2)>'
RTL, LINES, FORMULA = "\u202egnp.exe", "one\n=1+1\r@two", '=HYPERLINK("//x","y")'
HOSTILE = (SCRIPT, BROKEN_OUT, FORMULA, "@SUM(1+1)", "+1|cmd", "-1+1", "\t=1+1", LINES)
NAMES = (
    "<script>alert(1)<x>",
    BROKEN_OUT,
    "'><svg onload=alert(3)>",
    RTL,
    "a\nb\r=1",
    "x" * 251,
    os.fsdecode(b"\xff\xfe bytes"),
    '=HYPERLINK("x","y")',
    "@SUM(1)",
    "-1+1",
    "&lt;b&gt;{{ 7*7 }}{% raw %}",
    "javascript:alert(4)",
)
KIT = """
place = '{hostile}'
[[lens]]
id = "w16"
exif = ["Sund 16 mm f2.8", '{hostile}']
thread_mm = 77
focal_mm = 16
[[ring]]
id = "r77"
thread_mm = 77
bore_mm = 60
[[holder]]
id = "main"
slots = 2
[[filter]]
id = "n3"
kind = "neutral"
stops = 3
"""
WORN = """
[[worn]]
times = [2026-05-02T00:00:00, 2026-05-03T00:00:00]
ring = "r77"
holder = "main"
slots = ["n3"]
note = '{hostile}'
"""
PLACED = "61.23426,7.98725"
BODY, LENS, PERSON = "SER30012345", "SER77765432", "Ingrid Skarvoy"
PLACE = ("61.234", "61,234", "7.987", "7,987", "61°", "14.055", "14.06", "59.235")
"""61 deg 14.0556 min N, 7 deg 59.235 min E, as anyone might write it."""


def small(**save: Any) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (160, 107), (120, 140, 160)).save(out, "JPEG", **save)
    return out.getvalue()


def picture(
    minute: int | None = 0,
    main: dict[int, Value] | None = None,
    exif: dict[int, Value] | None = None,
    gps: dict[int, Value] | None = None,
    thumbnail: bytes | None = None,
) -> bytes:
    """A JPEG as a camera writes it; without a minute it has no time."""
    first = {0x010F: text("Brattholm"), 0x0110: text("Brattholm Tarn"), 0x0112: short(1)} | (main or {})
    second = {
        0x829A: ratio((1, 60)),
        0x829D: ratio((80, 10)),
        0x8827: short(100),
        0x920A: ratio((160, 10)),
        0xA434: text("Sund 16 mm f2.8"),
    }
    if minute is not None:
        second[0x9003] = text(f"2026:05:02 10:{minute:02d}:00")
    below = {EXIF_POINTER: Directory(second | (exif or {}))} | ({GPS_POINTER: Directory(gps)} if gps else {})
    chain = [Directory(first, below=below)] + ([thumbnail_directory(thumbnail)] if thumbnail else [])
    stored = io.BytesIO()
    Image.new("RGB", (600, 400), (90, 110, 130)).save(stored, "JPEG")
    return with_exif(stored.getvalue(), tiff_block(chain))


def hostile(words: str) -> Value:
    return raw_bytes(words.encode() + b"\0", ASCII)


def write_hostile(dump: Path) -> None:
    """Names and EXIF text that would be markup, script, formula or another line, if anything let them."""
    folder = dump / BROKEN_OUT
    folder.mkdir(parents=True)
    for n, name in enumerate(NAMES):
        words = HOSTILE[n % len(HOSTILE)]
        main = {0x010F: hostile(words), 0x0110: hostile(HOSTILE[(n + 1) % len(HOSTILE)])}
        exif = {0xA431: hostile(words)} | ({0xA434: hostile(words)} if n % 2 else {})
        where = folder if n % 3 == 0 else dump
        (where / f"{name}.jpg").write_bytes(picture(n if n % 4 else None, main, exif, thumbnail=small()))
        (dump / f"{name[:240]}.txt").write_bytes(b"passed over")
        (dump / f"{name[:240]} 2.jpg").write_bytes(b"no picture")
    (dump / "kit.toml").write_text(KIT.format(hostile=BROKEN_OUT))
    (dump / "filters.toml").write_text(WORN.format(hostile=SCRIPT))
    (dump / "keep.txt").write_text(f"{BROKEN_OUT}\n=HYPERLINK\n@SUM(1)\n{SCRIPT}\n{NAMES[2]}\n")


@pytest.fixture(scope="module")
def attacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The report of a hostile dump; `single` beside it."""
    place = tmp_path_factory.mktemp("attacked")
    dump = place / "<script>alert(0)<trip>"
    write_hostile(dump)
    result = audit(dump)
    assert len(result.frames) == 2 * len(NAMES)
    report.write(result, place / "single", single=True)
    return report.write(result, place / "out", pictures="all").out


@contextmanager
def opened(browser: Any, file: Path, **how: Any) -> Iterator[Any]:
    """A page of its own; a word on the console, a box or a request outside its run fails the test."""
    run = next((p for p in file.parents if (p / OUTPUT_MARKER).is_file()), file.parent)
    ours = ("data:", f"{run.as_uri()}/")
    context = browser.new_context(viewport={"width": 1400, "height": 800}, **how)
    page = context.new_page()
    told: list[str] = []
    page.on("console", lambda message: told.append(message.text))
    page.on("pageerror", lambda error: told.append(str(error)))
    page.on("dialog", lambda dialog: (told.append(dialog.message), dialog.dismiss()))
    page.on("request", lambda r: None if r.url.startswith(ours) else told.append(r.url))
    page.goto(file.as_uri())
    yield page
    page.wait_for_timeout(50)
    context.close()
    assert told == []


OURS_ONLY = """() => [...document.querySelectorAll('*')].flatMap(e => [
    ...(e.localName === 'script' && e.getAttribute('src') !== 'report.js' ? [e.outerHTML] : []),
    ...[...e.attributes].filter(a => a.name.startsWith('on')
        || ['href', 'src'].includes(a.name) && /^\\s*javascript:/i.test(a.value)
        || a.name === 'src' && !/^(report.js$|data:image\\/jpeg)/.test(a.value)
        && !/^(\\.\\.\\/)?pictures\\/([pvm]\\d+|c\\d+-[1-4])\\.jpg$/.test(a.value)
    ).map(a => e.outerHTML.slice(0, 200))])"""


def test_hostile_text_is_text_on_every_page(browser: Any, attacked: Path) -> None:
    pages = sorted(p for p in (attacked / "run-0001").glob("*.html") if p.name != "open.html")
    kinds = {"index", "findings", "frames", "print", "kit", "method", "passed-over", "no-time", "2026-05-02"}
    assert {p.stem for p in pages} == kinds
    seen = ""
    for file in (*pages, attacked.parent / "single" / "run-0001" / "report.html"):
        with opened(browser, file) as page:
            assert page.evaluate(OURS_ONLY) == [], file.name
            assert "\u202e" not in page.content()
            said = page.text_content("body")
            assert "<script>alert(0)<trip>" in said, file.name
            assert BROKEN_OUT in said or file.stem in ("method", "print"), file.name
            seen += said
    for words in (NAMES[0], SCRIPT, BROKEN_OUT, "\\u202egnp.exe", "a\\nb\\r=1", "x" * 251, "\\xff\\xfe"):
        assert words in seen, words
    assert "{{ 7*7 }}{% raw %}" in seen and "&lt;b&gt;" in seen


def test_hostile_text_is_text_beside_larger_views(browser: Any, attacked: Path) -> None:
    views = sorted((attacked / "run-0001" / "views").glob("*.html"))
    seen = ""
    for file in views:
        with opened(browser, file) as page:
            assert page.evaluate(OURS_ONLY) == [], file.name
            assert "\u202e" not in page.content()
            ways = page.eval_on_selector_all(".originals a", "all => all.map(a => a.getAttribute('href'))")
            assert all(re.fullmatch(r"(\.\./)+[A-Za-z0-9%/_.~-]+", way) for way in ways), ways
            seen += page.text_content("body")
    unseen = sum(not name.isprintable() for name in NAMES)  # files are not found again by escaped names
    assert len(views) == len(NAMES) - unseen and NAMES[0] in seen and "x" * 251 in seen


def test_hostile_text_is_text_when_picked_and_sorted(browser: Any, attacked: Path) -> None:
    """What the script moves about stays text too."""
    with opened(browser, attacked / "run-0001" / "frames.html") as page:
        for button in page.locator("th button").all():
            button.click()
        for name in ("lens", "rig"):
            options = page.locator(f"select[name={name}] option").count()
            if options:
                page.select_option(f"select[name={name}]", index=options - 1)
        assert page.evaluate(OURS_ONLY) == []


POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy" content="([^"]+)">')
LINK = re.compile(r'\b(?:href|src|action|content="0; url)="?([^"]*)"')


def test_every_page_says_that_nothing_foreign_runs_and_leads_nowhere_else(attacked: Path) -> None:
    """By its text alone: a policy before anything is named, only ways within it or to a photograph."""
    dump = attacked.parent / "<script>alert(0)<trip>"
    single = attacked.parent / "single"
    pages = [*attacked.rglob("*.html"), *single.rglob("*.html")]
    assert len(pages) > 12
    for page in pages:
        text = page.read_text(encoding="utf-8")
        policy = POLICY.search(text)
        named = re.search(r"<(link|title|script|style)", text)
        assert policy is not None and named is not None and policy.start() < named.start(), page
        rules = dict(rule.strip().split(" ", 1) for rule in policy[1].split(";"))
        assert rules["default-src"] == rules["form-action"] == rules["base-uri"] == "'none'", page
        assert rules.get("script-src", "'self'") == "'self'" and "connect-src" not in rules, page
        assert not re.search(r"<(iframe|object|embed|base|form[^>]+action)\b", text), page
        for link in map(unescape, LINK.findall(text)):
            if link.startswith(("data:image/jpeg;base64,", "data:image/png;base64,")) or link[:1] == "#":
                continue
            assert not re.match(r"\s*([a-z][a-z0-9+.-]*:|//|/)", link, re.I), (page, link)
            target = (
                page.parent / unquote_to_bytes(link.partition("#")[0]).decode("utf-8", "surrogateescape")
            ).resolve()
            assert target.is_relative_to(attacked.parent / "single") or any(
                target.is_relative_to(top) for top in (attacked, dump)
            ), (page, link)


@pytest.mark.parametrize("sheet", ["frames.csv", "orders.csv"])
def test_no_cell_starts_a_formula(attacked: Path, sheet: str) -> None:
    with (attacked / "newest" / sheet).open(encoding="utf-8", newline="") as file:
        cells = [cell for line in csv.reader(file) for cell in line]
    assert any("HYPERLINK" in cell or "SUM(1" in cell for cell in cells)
    number = re.compile(r"-?\d+(\.\d+)?(e[-+]\d+)?|-inf")
    risky = [c for c in cells if c.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "\n"))]
    assert [c for c in risky if not number.fullmatch(c)] == []


def written(out: Path) -> dict[str, bytes]:
    """Every file by its path, the number of its run left out, also of what stands in the list of files."""
    found = {}
    for file in (p for p in out.rglob("*") if p.is_file()):
        data = file.read_bytes()
        if file.name == "open.html":
            data = re.sub(rb"run-\d+", b"run", data)
        if file.name == OUTPUT_MARKER:
            data = b"\n".join(line for line in data.split(b"\n") if b"open.html" not in line)
            data = re.sub(rb"run-\d+", b"run", data)
        found[re.sub(r"run-\d+", "run", str(file.relative_to(out)))] = data
    return found


def test_two_runs_are_alike_byte_for_byte(attacked: Path, tmp_path: Path) -> None:
    """Audited anew from another place, written over an older run: all is the same but the run's number.

    The report lies beside the dump both times, so that its links to the photographs are the same.
    """
    dump = tmp_path / "moved" / "<script>alert(0)<trip>"
    shutil.copytree(attacked.parent / "<script>alert(0)<trip>", dump)
    again = audit(dump)
    out = tmp_path / "moved" / "elsewhere"
    report.write(again, out, pictures="all")
    shutil.rmtree(out / "run-0001")
    (out / "run-0006").mkdir()
    report.write(again, out, pictures="all")
    shutil.rmtree(out / "run-0006")
    first, second = written(attacked), written(out)
    assert [name for name in first.keys() | second.keys() if first.get(name) != second.get(name)] == []


def test_a_dump_with_nothing_but_pictures_is_a_whole_report(browser: Any, tmp_path: Path) -> None:
    """No kit, no declaration, no thumbnail, no time, no choice, hardly any EXIF."""
    dump = tmp_path / "bare"
    dump.mkdir()
    (dump / "TARN0001.JPG").write_bytes(picture(None))
    (dump / "TARN0002.JPG").write_bytes(with_exif(small(), tiff_block([Directory({0x0110: text("Tarn")})])))
    (dump / "TARN0003.JPG").write_bytes(small())
    (dump / "TARN0004.JPG").write_bytes(b"")
    out = report.write(audit(dump, pixels="off"), tmp_path / "out").out
    assert not (out / "run-0001" / "pictures").exists()
    for file in sorted((out / "run-0001").glob("*.html")):
        with opened(browser, file) as page:
            said = page.inner_text("body")
            assert not re.search(r"\b(nan|NaT|None(?!\.)|inf|undefined)\b", said), file.name
            for link in page.locator("a[href]").all():
                target = (file.parent / str(link.get_attribute("href")).partition("#")[0]).resolve()
                assert target.is_file() or target == file.parent, link
    frames = (out / "run-0001" / "frames.html").read_text(encoding="utf-8")
    assert all(f"TARN000{n}" in frames for n in range(1, 5))


def owned(dump: Path) -> None:
    """A frame that tells who took it, with what, and where; its thumbnail tells it again."""
    dump.mkdir(parents=True)
    (dump / "kit.toml").write_text(
        "latitude_deg = 61.23426\nlongitude_deg = 7.98725\n"
        + KIT.format(hostile="Skarven")
        + f'[[body]]\nname = "A"\nmodel = "Brattholm Tarn"\nserial = "{BODY}"\nsensor_mm = [35.9, 24.0]\n'
    )
    (dump / "filters.toml").write_text(WORN.format(hostile="a note"))
    again = Image.Exif()
    again[0x013B] = again[0x8298] = PERSON
    again.get_ifd(EXIF_POINTER)[0xA431] = BODY
    north, east = ((61, 1), (140556, 10000), (0, 1)), ((7, 1), (59235, 1000), (0, 1))
    gps = {1: text("N"), 2: ratio(*north), 3: text("E"), 4: ratio(*east), 0x1D: text("2026:05:02")}
    for minute, name in enumerate(("TARN0101", "TARN0102")):
        main = {0x013B: text(PERSON), 0x8298: text(f"(c) {PERSON}"), 0x9C9D: hostile(PERSON)}
        exif = {
            0xA430: text(PERSON),
            0xA431: text(BODY),
            0xA435: text(LENS),
            0x9011: text("+02:00"),
            0x9286: hostile(PERSON),
        }
        thumbnail = small(exif=again, comment=PERSON.encode())
        assert PERSON.encode() in thumbnail and BODY.encode() in thumbnail
        (dump / f"{name}.JPG").write_bytes(picture(minute, main, exif, gps, thumbnail))


def told(out: Path) -> dict[str, str]:
    """All that is in the output, file by file: bytes as they are, the table decoded."""
    said = {str(p.relative_to(out)): p.read_bytes().decode("latin-1") for p in out.rglob("*") if p.is_file()}
    table = pq.read_table(out / "newest" / "frames.parquet")
    fields = [(f.name, f.metadata) for f in table.schema]
    said["decoded"] = f"{table.to_pylist()} {table.schema.metadata} {fields}"
    return said


def holding(said: dict[str, str], words: tuple[str, ...]) -> list[tuple[str, str]]:
    return [(file, word) for file, held in said.items() for word in words if word.lower() in held.lower()]


@pytest.fixture
def private(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    home = tmp_path / "home" / "ingrid.skarvoy"
    owned(home / "trips" / "skarven")
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.setenv("XDG_CACHE_HOME", str(home / ".cache"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(home / ".config"))
    return home


@pytest.mark.parametrize("more", [[], ["--single"], ["--pixels", "full", "--place", PLACED]])
def test_nothing_private_leaves(private: Path, tmp_path: Path, more: list[str]) -> None:
    out = private / "out"
    assert run(["audit", str(private / "trips" / "skarven"), "--out", str(out), "--quiet", *more]) in (0, 1)
    said = told(out)
    assert holding(said, (PERSON, "Ingrid", "Skarvoy", BODY, LENS, str(tmp_path), "/home/")) == []
    text_only = {file: held for file, held in said.items() if not file.endswith((".jpg", ".parquet"))}
    assert (
        holding({f: re.sub(r"data:image/jpeg;base64,\S+", "", t) for f, t in text_only.items()}, PLACE) == []
    )
    assert "'gps_present': True" in said["decoded"]
    assert "'sky_source': 'position in the file; " in said["decoded"]  # it was known, and used
    pictures = list((out / "run-0001" / "pictures").glob("*.jpg")) if "--single" not in more else []
    for file in pictures:
        with Image.open(file) as shown:
            assert not shown.getexif() and set(shown.info) <= {
                "jfif",
                "jfif_version",
                "jfif_unit",
                "jfif_density",
            }
    assert pictures or "--single" in more
    assert not [p for p in out.rglob("*") if p.suffix == ".sqlite"]


def test_serials_only_when_asked_and_then_said_on_the_front_page(private: Path, tmp_path: Path) -> None:
    out, dump = private / "out", str(private / "trips" / "skarven")
    assert run(["audit", dump, "--out", str(out), "--quiet", "--with-serials"]) in (0, 1)
    said = told(out)
    table = {"decoded", "run-0001/frames.csv"}
    assert {file for file, _ in holding(said, (BODY,))} >= {*table, "run-0001/kit.html"}
    assert {file for file, _ in holding(said, (LENS,))} >= table
    assert holding(said, (PERSON, "Ingrid", "Skarvoy", str(tmp_path), "/home/")) == []
    front = "Serial numbers of bodies and lenses are shown, as was asked."
    assert front in said["run-0001/index.html"]


def walk(browser: Any, out: Path) -> dict[str, int]:
    """Clicks from the top page to the worst frame, its cause, its clean crop and its largest print."""
    clicks = {}
    with opened(browser, out / "report.html") as page:
        page.wait_for_url("**/index.html")
        row = page.locator("ol.causes li.cause", has_text="Corners").first
        assert row.locator(".told p").first.inner_text().strip()
        clicks["cause"] = 0
        row.locator(".links a").first.click()
        clicks["worst frame"] = 1
        frame, setup = page.locator(".frame:target"), page.locator("section.setup:has(.frame:target)")
        anchor = frame.get_attribute("id")
        assert frame.locator("ul.found .mark.act").count() >= 1
        assert frame.bounding_box()["y"] < 800
        assert re.search(r"crop to \d+ % of the picture", setup.inner_text())
        assert "A line marks the clean crop" in " ".join(setup.locator("svg.corner desc").all_text_contents())
        clicks["clean crop"] = 1
        picture = setup.locator(f"[data-of={anchor}]")
        assert picture.locator(".with-crop path.crop-line").count() == 1
        assert "clean crop drawn on it" in picture.locator("img").get_attribute("alt")
        frame.locator("summary").click()
        assert re.search(r"Print\s+[\d.]+\s×\s[\d.]+\scm at\s300\sppi", frame.inner_text())
        clicks["largest print"] = 2
        setup.locator("details.everything summary").click()
        assert re.search(r"clean crop\s+\d+, \d+, \d+, \d+", setup.inner_text())
        clicks["crop in pixels"] = 2
        frame.locator("ul.found a").first.click()
        assert page.locator(":target").count() == 1
    return clicks


def test_answers_are_at_most_three_clicks_away(browser: Any, module_trip: Result, tmp_path: Path) -> None:
    assert max(walk(browser, report.write(module_trip, tmp_path / "out").out).values()) <= 3
