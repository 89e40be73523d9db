"""A report in another language: told wholly, numbers and dates by the locale, data files untouched."""

from __future__ import annotations

import copy
import importlib.util
import pickle
import re
import string
import sys
import tomllib
from collections.abc import Iterator
from datetime import date, datetime
from gettext import NullTranslations
from html.parser import HTMLParser
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po
from marking import marking, untold_words, words_of

from audit import report
from audit.errors import AuditError
from audit.jobs.audit import audit
from audit.message.shown import shown_line
from audit.message.text import day, figure, joined, marked, plural, say
from audit.report import pdf
from audit.report.language import CATALOGUES, Language, languages
from audit.report.view import page
from audit.scan.note import Note
from audit.table.column import WORDS

ROOT = Path(__file__).parents[2]
OTHERS = [code for code in languages() if code != "en"]
DATA = ("frames.csv", "frames.parquet", "findings.json", "orders.csv")


KNOWN = {
    "{n} frame": ("{n} Aufnahme", "{n} Aufnahmen"),
    "{loss:.1f} stops lost in {frames}": "{frames}: {loss:.1f} Blenden verloren",
    "copy of {file}": "Kopie von {file}",
    "bare": "ohne Filter",
    "from {first} to {last}": "vom {first} bis {last}",
}


class Words(NullTranslations):
    """A catalogue of a few messages."""

    def gettext(self, message):
        return KNOWN.get(message, message)

    def ngettext(self, one, many, n):
        return KNOWN[one][n != 1]


@pytest.fixture
def german():
    language = Language("de")
    language.catalogue = Words()
    return language


def test_a_text_is_told_from_what_it_was_made_of(german):
    frames = plural(12, "{n} frame", "{n} frames")
    text = say("{loss:.1f} stops lost in {frames}", loss=1.25, frames=frames)
    one = joined([plural(1, "{n} frame", "{n} frames"), "", marked("bare"), figure("0.5")], ", ")
    first, last = day(datetime(2026, 9, 14, 7)), day(date(2026, 9, 20))
    days = say("from {first} to {last}", first=first, last=last)
    assert text == "1.2 stops lost in 12 frames"
    assert (one, days) == ("1 frame, bare, 0.5", "from 2026-09-14 to 2026-09-20")
    assert german.tell(text) == "12 Aufnahmen: 1,2 Blenden verloren"
    assert german.tell(one) == "1 Aufnahme, ohne Filter, 0,5"
    assert german.tell(days) == "vom 14.09.2026 bis 20.09.2026"


def test_names_are_never_translated(german):
    assert german.tell(say("copy of {file}", file="bare")) == "Kopie von bare"


def test_what_nobody_made_stays_as_it_is(german):
    assert german.tell("DSC_0.5") == "DSC_0.5"
    assert Language().tell("1.5 stops") == "1.5 stops"


def test_a_text_is_itself_wherever_it_was(german):
    """Through a column, a pickle, a copy, and with characters of a name made visible."""
    text = say("{loss:.1f} stops lost in {frames}", loss=1.25, frames=plural(1, "{n} frame", "{n} frames"))
    column = WORDS.series([text, None, ""])
    there = [str(column[0]), pickle.loads(pickle.dumps(text)), copy.deepcopy(text)]
    there.append(pickle.loads(pickle.dumps(Note(text, "damage"))))
    assert [german.tell(one) for one in there] == ["1 Aufnahme: 1,2 Blenden verloren"] * 4
    assert there[-1].about == "damage"
    assert WORDS.array(column).to_pylist() == [text, None, None]
    assert WORDS.cells(column) == [text, "", ""]
    shown = shown_line(say("copy of {file}", file="a\nb"))
    assert (shown, german.tell(shown)) == (r"copy of a\nb", r"Kopie von a\nb")


def test_an_unknown_language_is_one_clear_line():
    with pytest.raises(AuditError, match=r"--lang xx: no such language; there are en, de"):
        Language("xx")


def collected() -> Catalog:
    sys.path.insert(0, str(ROOT / "docs"))
    spec = importlib.util.spec_from_file_location("catalogue", ROOT / "docs" / "catalogue.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    sys.path.remove(str(ROOT / "docs"))
    return module


def test_the_catalogues_are_those_of_the_code():
    for path, text in collected().pages().items():
        assert path.read_text(encoding="utf-8") == text, f"{path.name}: run `make docs`"


@pytest.mark.parametrize("code", OTHERS)
def test_what_a_catalogue_tells_has_the_values_of_the_message(code):
    """What it does not tell is shown in English; `make untranslated` counts it."""
    with (CATALOGUES / f"{code}.po").open("rb") as file:
        catalog = read_po(file, locale=code)
    for message in catalog:
        if message.id:
            told = message.string if isinstance(message.string, tuple) else (message.string,)
            one = message.id[0] if isinstance(message.id, tuple) else message.id
            assert all(fields(text) == fields(one) for text in told if text), f"{code}: {message.id!r}"


def fields(text: str) -> set[str]:
    """Values of a message with how they are written."""
    if "%(" in text:
        return set(re.findall(r"%\(\w+\)\w", text))
    try:
        return {f"{name}:{spec}" for _, name, spec, _ in string.Formatter().parse(text) if name}
    except ValueError:  # a brace of a file format, not a value
        return set()


class Seen(HTMLParser):
    """What a reader meets: text, and the attributes that are read out or shown."""

    SHOWN = ("alt", "title", "aria-label", "data-name", "data-shown", "placeholder", "content")
    EMPTY = ("style", "script", "code")
    """Not read, or the same in any language."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.parts, self.within, self.skip = [], [], 0

    def handle_starttag(self, tag, attrs):
        if tag in self.EMPTY:
            self.skip += 1
        known = dict(attrs)
        if tag != "meta" or known.get("name") == "description":
            self.parts += [value for name, value in attrs if name in self.SHOWN and value]

    def handle_endtag(self, tag):
        self.skip -= tag in self.EMPTY

    def handle_data(self, data):
        if not self.skip:
            self.parts.append(data)


def untold(page: str, names: set[str]) -> list[str]:
    """Words of a page that are neither told nor the photographer's own."""
    seen = Seen()
    seen.feed(page)
    found = []
    for part in seen.parts:
        if strange := untold_words(part, names):
            found.append(f"{' '.join(strange)} << {part.strip()[:160]}")
    return found


NAME_COLUMNS = (
    *("frame", "files", "folder", "make", "model", "lens", "lens_id", "body", "formats"),
    *("declared_in", "iso_source"),
)
LEFT_ALONE = {"EXIF", "ISO", "JPEG", "CSV", "cornerstop", "density", "stops", "factor"}
LEFT_ALONE |= {word for name in (*DATA, "report.html") for word in name.split(".")}
"""Words, keys of the kit and names of files that are the same in any language of the report."""


def texts_in(values) -> Iterator[str]:
    """Every text of a file in TOML, without its keys and comments."""
    if isinstance(values, str):
        yield values
    for part in values.values() if isinstance(values, dict) else values if isinstance(values, list) else ():
        yield from texts_in(part)


def own_words(trip: Path, result) -> set[str]:
    """What the photographer, or the camera, wrote: kit and declarations, and names of files and gear."""
    files = [tomllib.loads(p.read_text(encoding="utf-8")) for p in trip.parent.rglob("*.toml")]
    found = {word for values in files for text in texts_in(values) for word in words_of(text)}
    found |= words_of(f"{trip.name} {' '.join(result.passed_over['path'])}")
    for column in NAME_COLUMNS:
        for value in result.frames[column].dropna():
            found |= words_of(value if isinstance(value, str) else " ".join(value))
    return found


@pytest.fixture(scope="module")
def told(skarven):
    """The demo audited: trip and result."""
    trip = skarven / "trip"
    yield trip, audit(trip)


def test_every_page_is_told_wholly(told, tmp_path):
    trip, result = told
    language = marking()
    out = report.write(result, tmp_path / "report", language=language).out
    names = own_words(trip, result) | LEFT_ALONE
    pages = {p.name: p.read_text(encoding="utf-8") for p in out.rglob("*.html")}
    pages["single"] = report.render(result, language=language)
    pages["pdf"] = pdf.html(result, page(result), out, language=language)
    left = [f"{name}: {line}" for name, text in pages.items() for line in untold(text, names)]
    assert len(pages) > 10 and not left, "\n".join(left)


@pytest.mark.parametrize("code", OTHERS)
def test_the_language_changes_the_report_only(told, tmp_path, code):
    _, result = told
    language = Language(code)
    there = report.write(result, tmp_path / "there", language=language).out
    again = report.write(result, tmp_path / "again", language=language).out
    english = report.write(result, tmp_path / "english").out
    for name in DATA:
        assert (there / "newest" / name).read_bytes() == (english / "newest" / name).read_bytes(), name
    pages = sorted(p.relative_to(there) for p in there.rglob("*") if p.is_file())
    assert pages == sorted(p.relative_to(english) for p in english.rglob("*") if p.is_file())
    assert all((there / p).read_bytes() == (again / p).read_bytes() for p in pages)
    front = (there / "run-0001/index.html").read_text(encoding="utf-8")
    assert f'<html lang="{code}">' in front
    table = (there / "run-0001/frames.html").read_text(encoding="utf-8")
    assert table.count('data-order="2025-09-1') > 100, "days of another language sort as words, not as days"


def skeleton(text: str) -> list[tuple[str, list[str]]]:
    """Tags with the attributes that programs read."""
    kept = ("id", "class", "href", "data-level", "data-day", "data-lens", "data-rig", "for", "name", "type")
    found = []

    class Tags(HTMLParser):
        def handle_starttag(self, tag, attrs):
            found.append((tag, [f"{k}={v}" for k, v in attrs if k in kept]))

    Tags().feed(text)
    return found


def test_codes_and_links_are_the_same_in_any_language(told, tmp_path):
    _, result = told
    language = marking()
    there = report.write(result, tmp_path / "there", language=language).out
    english = report.write(result, tmp_path / "english").out
    pages = sorted(p.name for p in (english / "run-0001").glob("*.html"))
    assert len(pages) > 8
    for name in pages:
        both = [(at / "run-0001" / name).read_text(encoding="utf-8") for at in (there, english)]
        assert skeleton(both[0]) == skeleton(both[1]), name


def test_a_lens_named_like_a_word_keeps_its_name(make_trip, make_frame, tmp_path):
    lost = {"focal_length_mm": None, "focal_length_35mm": None}
    named = {"lens": "manual", "lens_id": "manual"}
    nameless = {"lens": None, "lens_id": None}
    rows = [make_frame("TARN1", 0, **named), make_frame("TARN2", 1, **named, **lost)]
    rows.append(make_frame("TARN3", 2, **nameless, **lost))
    result = make_trip(rows)
    out = report.write(result, tmp_path / "report", language=marking()).out
    pages = {p.name: p.read_text(encoding="utf-8") for p in out.rglob("*.html")}
    assert not [name for name, text in pages.items() if "\u27e6manual\u27e7" in text]
    assert ">manual</option>" in pages["frames.html"]
    assert ">\u27e6lens unknown\u27e7</option>" in pages["frames.html"]
    assert "manual\u27e6, no focal length\u27e7" in pages["frames.html"]
