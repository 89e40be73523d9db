"""The PDF: the same bytes twice, what is to be acted on in it, links that lead somewhere, nothing private."""

from __future__ import annotations

import importlib
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PIL import ImageFile

from audit import report
from audit.cli.entry import run
from audit.errors import AuditError
from audit.report import pdf, pdf_view
from audit.report.view import page


def _lacking() -> str:
    try:
        pdf.require()
    except AuditError as error:
        return str(error)
    return ""


LACKING = _lacking()
drawn = pytest.mark.skipif(bool(LACKING), reason=LACKING or "all is there")


@pytest.fixture(scope="module")
def out(module_trip: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return report.write(module_trip, tmp_path_factory.mktemp("pdf") / "out", pdf=True).out


@pytest.fixture(scope="module")
def reader(out: Path) -> Any:
    return importlib.import_module("pypdf").PdfReader(out / "newest/report.pdf")


@pytest.fixture(scope="module")
def words(reader: Any) -> str:
    return _plain(" ".join(p.extract_text() for p in reader.pages))


def _plain(text: str) -> str:
    return " ".join(text.split())


def _annotations(reader: Any) -> list[Any]:
    return [a.get_object() for p in reader.pages for a in p.get("/Annots", [])]


@drawn
def test_a_second_run_gives_the_same_bytes(module_trip: Any, out: Path, tmp_path: Path) -> None:
    again = report.write(module_trip, tmp_path / "elsewhere", pdf=True).out
    assert (again / "newest/report.pdf").read_bytes() == (out / "newest/report.pdf").read_bytes()


@drawn
def test_pages_are_counted_and_headed(reader: Any) -> None:
    count = len(reader.pages)
    assert 3 <= count <= 30
    for n, sheet in enumerate(reader.pages, start=1):
        assert f"{n} / {count}" in _plain(sheet.extract_text())
    assert "What to act on" in _plain(reader.pages[1].extract_text())


@drawn
def test_every_finding_to_act_on_or_look_at_is_told(module_trip: Any, words: str) -> None:
    groups = page(module_trip).groups
    tight = words.replace(" ", "")
    titles = [g.title for level in ("act", "look") for g in groups[level]]
    assert titles
    for title in titles:
        assert title.replace(" ", "") in tight


@drawn
def test_contents_name_the_page_of_each_part(reader: Any) -> None:
    contents = _plain(reader.pages[0].extract_text())
    for part in ("Filters", "Method in short", "Where the rest is"):
        told = re.search(rf"{part}[ .]*(\d+)", contents)
        assert told, part
        assert part in _plain(reader.pages[int(told[1]) - 1].extract_text())


@drawn
def test_links_lead_to_places_that_are_there(reader: Any, out: Path) -> None:
    named = set(reader.named_destinations)
    inner = [str(a["/Dest"]) for a in _annotations(reader) if "/Dest" in a]
    outer = [str(a["/A"]["/URI"]) for a in _annotations(reader) if "/A" in a and "/URI" in a["/A"]]
    assert inner
    assert set(inner) <= named
    assert any("#frame-" in uri for uri in outer)
    for uri in outer:
        file, _, anchor = uri.partition("#")
        assert (out / "newest" / file).is_file(), uri
        assert not anchor or f'id="{anchor}"' in (out / "newest" / file).read_text(encoding="utf-8")


@drawn
def test_contact_sheet_and_frames_are_in_it(words: str) -> None:
    for part in ("Contact sheet", "All frames"):
        assert words.count(part) >= 2, part  # in the contents, and above the part itself


def test_the_print_desk_is_in_it(module_trip: Any, tmp_path: Path) -> None:
    kept = replace(module_trip, frames=module_trip.frames.assign(kept="proposed"))
    items = page(kept).desk.items
    text = pdf.html(kept, page(kept), tmp_path)
    assert items and 'href="#print"' in text
    table = text[text.index('<table class="prints">') :].partition("</table>")[0]
    assert table.count("<tr>") == 1 + len(items)


@drawn
def test_no_page_but_the_last_is_half_blank(reader: Any) -> None:
    for n, sheet in enumerate(reader.pages[:-1], start=1):
        heights: list[float] = []
        sheet.extract_text(
            visitor_text=lambda text, cm, tm, font, size, seen=heights: (
                seen.append(cm[3] * tm[5] + cm[5]) if text.strip() else None
            )
        )
        high = float(sheet.mediabox.height)
        body = [y if y >= 0 else y + high for y in heights]
        assert min(y for y in body if y > 0.08 * high) < 0.5 * high, n


@drawn
def test_pictures_are_in_it(reader: Any) -> None:
    assert any(len(sheet.images) for sheet in reader.pages)


@drawn
def test_nothing_private_is_in_it(reader: Any, words: str, out: Path, serial: str = "SER3001234") -> None:
    assert serial not in words
    uris = " ".join(str(a["/A"].get("/URI", "")) for a in _annotations(reader) if "/A" in a)
    assert str(Path.home()) not in words + uris
    assert str(out.parent) not in words + uris
    assert "file:" not in uris


@drawn
def test_a_date_is_told_only_where_it_was_asked_for(
    module_trip: Any, reader: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert reader.metadata.get("/CreationDate") is None
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1750000000")
    dated = report.write(module_trip, tmp_path / "dated", pdf=True, single=True).out
    read = importlib.import_module("pypdf").PdfReader(dated / "newest/report.pdf")
    assert str(read.metadata["/CreationDate"]).startswith("D:20250615")
    # beside a report of one page all links lead to files that are there
    outer = [str(a["/A"]["/URI"]) for a in _annotations(read) if "/A" in a and "/URI" in a["/A"]]
    assert outer
    assert all((dated / "newest" / uri).is_file() for uri in outer)


def test_long_lists_are_cut_and_counted(module_trip: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pdf_view, "MOST_LINES", 1)
    level = pdf_view.paper(module_trip, page(module_trip)).levels[0]
    told = sum(len(g.findings) for g in level.groups)
    assert (len(level.lines), told) == (1, 1)
    assert level.left_out == sum(len(g.rows) for g in page(module_trip).groups["act"]) - 1 > 0


def test_nothing_hostile_becomes_markup(module_trip: Any, tmp_path: Path) -> None:
    text = pdf.html(module_trip, page(module_trip), tmp_path)
    assert "<script" not in text
    assert "onerror=alert(2)>" not in text.replace("&gt;", "")
    assert "\u202e" not in text


def test_without_the_package_one_line_says_how_to_get_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda name, package=None: None)
    assert run(["audit", str(tmp_path), "--out", str(tmp_path / "out"), "--pdf"]) == 2
    said = capsys.readouterr()
    assert said.err.strip() == pdf.NO_PACKAGE
    assert 'pip install "cornerstop[pdf]"' in said.err
    assert not (tmp_path / "out").exists()


def test_without_pango_one_line_names_the_system_s_packages(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(name: str) -> Any:
        sys.stdout.write("a page of advice\n")
        raise OSError("cannot load library 'libpango-1.0-0'")

    monkeypatch.setattr("importlib.util.find_spec", lambda name, package=None: object())
    monkeypatch.setattr("importlib.import_module", fail)
    assert run(["audit", str(tmp_path), "--out", str(tmp_path / "out"), "--pdf"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.strip() == pdf.NO_PANGO
    assert "libpangoft2-1.0-0" in said.err
    assert "\n" not in pdf.NO_PANGO
    assert not (tmp_path / "out").exists()


@drawn
def test_the_order_of_hashes_changes_nothing(tmp_path: Path) -> None:
    """Two processes with other seeds draw a small page alike."""
    code = (
        "import sys; from audit.report import pdf; w = pdf.require();"
        "w.HTML(string='<title>t</title><h1>One</h1><p>Two <b>three</b> <code>four</code>')"
        ".write_pdf(sys.argv[1], pdf_identifier=b'0' * 16)"
    )
    files = []
    for seed in ("1", "2"):
        files.append(tmp_path / f"{seed}.pdf")
        subprocess.run(
            [sys.executable, "-c", code, str(files[-1])],
            check=True,
            env=os.environ | {"PYTHONHASHSEED": seed},
            cwd=Path(pdf.__file__).parents[2],
        )
    assert files[0].read_bytes() == files[1].read_bytes()


def test_damaged_pictures_are_still_told_once_it_is_loaded():
    """WeasyPrint tells Pillow to fill up damaged pictures, in the whole program."""
    try:
        pdf.require()
    except AuditError as error:
        pytest.skip(str(error))
    assert not ImageFile.LOAD_TRUNCATED_IMAGES


@drawn
def test_it_is_tagged_and_says_its_language(reader: Any) -> None:
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert "/StructTreeRoot" in root
