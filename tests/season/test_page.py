"""The page: what is on it, in two languages; nothing that acts, nothing that tells a place."""

import json
import re

import pytest
from season_rows import FIXTURES, frame

from audit.cli.entry import run
from audit.errors import AuditError
from audit.report.language import Language
from audit.season.page import page_text, write_page
from audit.season.season import season
from audit.season.told import percent, share_words, tables

HOSTILE = "<script>alert(1)</script>\u202e"


@pytest.fixture(scope="module")
def old():
    return season([FIXTURES / "version-1"])


def test_every_question_is_on_the_page(old):
    page = page_text(old)
    for table in tables(old):
        assert f'<h2 id="{table.id}">' in page and table.rows


def test_nothing_on_it_acts_or_comes_from_elsewhere(old):
    page = page_text(old)
    assert "<script" not in page and "http://" not in page and "https://" not in page
    assert not re.search(r"\son\w+=|\sstyle=", page)
    (policy,) = re.findall(r'Content-Security-Policy" content="([^"]*)"', page)
    assert policy == "default-src 'none'; style-src 'self'; base-uri 'none'; form-action 'none'"


def test_words_of_others_are_shown_and_do_nothing(archive):
    archive("a", [frame(1, lens=HOSTILE, filters=[HOSTILE], mount_words=HOSTILE)])
    page = page_text(season([archive.folder]))
    assert "<script" not in page and "\u202e" not in page
    assert page.count("&lt;script&gt;alert(1)&lt;/script&gt;\\u202e") >= 3


def test_neither_page_nor_data_tells_a_place(archive, tmp_path):
    archive(
        "Ravnsund at dawn", [frame(n) for n in range(3)], findings=[("corners", "act", ["Ravnsund/TARN0001"])]
    )
    (archive("Ravnsund at dusk", [frame(9)]) / "data" / "knowledge" / "findings.json").write_text("{")
    run_ = write_page(season([archive.folder]), tmp_path / "out").run
    for path in run_.iterdir():
        assert b"Ravnsund" not in path.read_bytes(), path.name


def test_a_filters_own_name_is_not_translated(archive):
    archive("a", [frame(1, filters=["declared"], lens="predicted")])
    page = page_text(season([archive.folder]), Language("de"))
    assert "<bdi>declared</bdi></th>" in page and "<bdi>predicted</bdi></td>" in page


def test_all_of_it_is_told_in_german(old, archive):
    archive("a", [frame(1, declaration_source="estimated", lens=None)], kit=None, drop=("iso",))
    archive("b", [frame(2)], version=9)
    for found in (old, season([archive.folder])):
        page = re.sub(r"<[^>]*>", " ", page_text(found, Language("de")))
        for word in (" the ", " of ", " frame", "archive ", " declared", " trip"):
            assert word not in page, word


def test_a_share_says_how_sure_it_is():
    from audit.season.interval import share

    assert share_words(share(0, 12)) == "none of 12 (at most 24 %)"
    assert share_words(share(12, 12)) == "12 of 12 (at least 76 %)"
    assert share_words(share(8, 131)) == "8 of 131: 6.1 % (3.1 to 12)"
    assert [percent(p) for p in (0, 0.0002, 0.0123, 0.0996, 0.5, 1)] == [
        "0",
        "0.02",
        "1.2",
        "10",
        "50",
        "100",
    ]


def test_a_page_is_never_written_into_an_archive(old, archive):
    bag = archive("a", [frame(1)])
    for out in (bag, bag / "data" / "new", bag / "data"):
        with pytest.raises(AuditError, match="lies in the archive"):
            write_page(old, out)
    assert not (bag / "data" / "new").exists()


def test_the_command_says_it_all(archive, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    archive("good", [frame(n) for n in range(3)])
    assert run(["season", "season"]) == 0
    out, err = capsys.readouterr()
    assert err == "" and "carried, never declared as worn: none of 1" in out
    assert out.rstrip().endswith("page: cornerstop-season/report.html")
    assert all(len(line) <= 80 for line in out.splitlines())
    (archive("bad", [frame(9)]) / "data" / "knowledge" / "frames.parquet").write_bytes(b"no")
    assert run(["season", "season", "--json"]) == 1
    out, err = capsys.readouterr()
    record = json.loads(out)
    assert (record["season_version"], record["frames"]) == (1, 3)
    assert [p["skipped"] for p in record["problems"]] == [True]
    assert (
        "/season/bad: skipped: data/knowledge/frames.parquet cannot be read" in err and err.count("\n") == 1
    )
    assert record["problems"][0].pop("archive") == str(archive.folder / "bad")
    kept = json.loads((tmp_path / "cornerstop-season/newest/season.json").read_text())
    assert kept["problems"][0].pop("archive") is None
    assert kept == record


def test_an_answer_goes_to_the_terminal_or_as_csv_or_json(archive, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    archive("good", [frame(n) for n in range(3)])
    question = ["season", "season", "--sql", "SELECT name, iso FROM frames ORDER BY name"]
    assert run([*question, "--csv"]) == 0
    assert capsys.readouterr().out.splitlines() == ["name,iso", "TARN0000,", "TARN0001,", "TARN0002,"]
    assert run([*question, "--json", "--rows", "2"]) == 0
    out, err = capsys.readouterr()
    assert json.loads(out) == {
        "columns": ["name", "iso"],
        "rows": [["TARN0000", None], ["TARN0001", None]],
        "more": True,
    }
    assert "more than 2 rows" in err
    assert run(question) == 0
    assert capsys.readouterr().out.splitlines()[1].startswith("TARN0000")
    assert not (tmp_path / "cornerstop-season").exists()


def test_without_duckdb_one_line_says_how_to_get_it(archive, monkeypatch, capsys):
    import sys

    archive("good", [frame(1)])
    monkeypatch.setitem(sys.modules, "duckdb", None)
    assert run(["season", str(archive.folder)]) == 2
    assert 'pip install "cornerstop[season]"' in capsys.readouterr().err
