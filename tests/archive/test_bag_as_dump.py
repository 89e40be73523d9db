"""A bag is a dump like any other: audited and drafted, its report outside it, and put back with --update."""

import json

import pytest

from audit.cli.entry import run
from audit.jobs.archive import archive
from audit.jobs.audit import audit
from audit.jobs.verify import verify


@pytest.fixture
def here(tmp_path, monkeypatch):
    """The folder in which commands are run."""
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return folder


def tree(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def findings(capsys, *words):
    capsys.readouterr()
    code = run(["audit", *map(str, words), "--pixels", "off", "--json"])
    assert code in (0, 1)
    return json.loads(capsys.readouterr().out)["findings"]


def test_it_is_judged_as_the_dump_was(bag, dump, here, capsys):
    before = tree(bag)
    assert findings(capsys, bag, "--out", "a") == findings(capsys, dump, "--out", "b")
    assert tree(bag) == before
    page = (here / "a" / "newest" / "index.html").read_text(encoding="utf-8")
    assert "<title>bag" in page or ">bag<" in page


def test_the_report_stays_outside(bag, here, monkeypatch, capsys):
    for out in (bag / "report", bag / "data" / "report", bag / "data/pictures/report"):
        assert run(["audit", str(bag), "--out", str(out), "--pixels", "off"]) == 2
    monkeypatch.chdir(bag)
    assert run(["audit", ".", "--pixels", "off"]) == 2
    assert verify(bag).found.problems == []


def test_a_bag_is_asked_for_alone(bag, dump, here, capsys):
    assert run(["audit", str(dump), str(bag)]) == 2
    assert "a bag is asked for alone" in capsys.readouterr().err


def test_a_draft_is_corrected_judged_again_and_put_back(skarven, tmp_path, here, capsys):
    """A trip whose card is long formatted."""
    import shutil

    card = tmp_path / "card"
    shutil.copytree(skarven / "trip" / "2025-09-13 Ravnsund", card / "day")
    shutil.copy2(skarven / "trip" / "kit.toml", card / "kit.toml")
    (card / "day" / "filters.toml").unlink()
    for path in sorted(p for p in (card / "day").rglob("*") if p.is_file())[8:]:
        path.unlink()
    bag = tmp_path / "bag"
    archive(card, bag, pixels="off")
    shutil.rmtree(card)
    before = tree(bag)
    assert run(["draft", str(bag), "--pixels", "off"]) in (0, 1)
    assert "filters.toml" in capsys.readouterr().out
    assert run(["draft", str(bag), "--pixels", "off", "--write"]) == 2
    assert "nothing is written into a bag" in capsys.readouterr().err
    inside = ["--declarations", str(bag / "data/knowledge")]
    assert run(["draft", str(bag), "--pixels", "off", "--write", *inside]) == 2
    words = ["draft", str(bag), "--pixels", "off", "--write", "--declarations", "notes"]
    assert run(words) in (0, 1)
    assert tree(bag) == before
    written = (here / "notes/day/filters.toml").read_text(encoding="utf-8")
    assert "[[worn]]" in written
    (here / "notes/day/filters.toml").write_text("[[worn]]\nbare = true\n", encoding="utf-8")
    assert findings(capsys, bag, "--declarations", "notes", "--out", "a") is not None
    frames = audit(bag / "data/pictures", declarations=here / "notes", pixels="off").frames
    assert run(["archive", "--update", str(bag), "--declarations", "notes", "--pixels", "off"]) == 0
    assert set(frames["declaration"]) == {"bare"}
    text = (bag / "data/knowledge/frames.csv").read_text(encoding="utf-8")
    assert text.count(",bare,") >= len(frames)
    assert verify(bag).found.problems == []


def test_a_tree_for_drafts_gets_what_the_bag_declares(bag, here, capsys):
    own = tree(bag / "data/knowledge/declarations")
    words = ["draft", str(bag), "--pixels", "off", "--declarations", "notes"]
    (here / "notes").mkdir()
    assert run(words) in (0, 1)
    assert tree(here / "notes") == {}  # nothing is written without --write
    assert run([*words, "--write"]) in (0, 1)
    assert set(tree(here / "notes")) >= set(own)
