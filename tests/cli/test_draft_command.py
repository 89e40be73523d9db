"""`cornerstop draft` on the demo trip without its notes: printed, corrected, audited."""

import json
import shutil

import pytest

from audit.cli.entry import run


@pytest.fixture
def card(demo, tmp_path):
    """The demo trip's first day of body A, its declaration taken away."""
    card = tmp_path / "card"
    shutil.copytree(demo / "trip" / "card-1", card)
    shutil.copy(demo / "trip" / "kit.toml", card)
    (card / "filters.toml").unlink()
    return card


def sums(folder):
    return {p: p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_prints_a_draft_and_writes_nothing(card, away, capsys):
    before = sums(card)
    assert run(["draft", str(card), "--no-cache"]) == 1
    out = capsys.readouterr().out
    assert "[[worn]]" in out
    assert 'source = "estimated"' in out
    assert "What you could settle" in out
    assert "nothing written" in out
    assert sums(card) == before


def test_draft_corrected_by_hand_and_audited(card, away, capsys):
    notes = away / "notes"
    base = ["draft", str(card), "--no-cache", "--declarations", str(notes), "--quiet"]
    assert run([*base, "--write"]) == 1
    written = sorted(notes.rglob("filters.toml"))
    assert written
    text = written[0].read_text()
    written[0].write_text(text.replace('source = "estimated"\n', "", 1))
    audit = ["audit", str(card), "--declarations", str(notes), "--no-cache", "--pixels", "off", "--json"]
    assert run([*audit, "--out", str(away / "report")]) in (0, 1)
    counts = json.loads(capsys.readouterr().out)["counts"]["frames_by_declaration"]
    assert counts["bare"] > 0
    again = sums(notes)
    assert run(base) == 1
    assert sums(notes) == again


def test_without_a_filter_in_the_kit_it_says_what_to_do(card, away, capsys):
    (card / "kit.toml").write_text('[[body]]\nname = "A"\nmodel = "Norrlys N6"\n')
    assert run(["draft", str(card), "--no-cache"]) == 2
    assert "no filter in the kit" in capsys.readouterr().err


@pytest.mark.parametrize("place", ["61.5", "north,east", "161,5", "5;6"])
def test_a_place_that_is_none_is_refused(card, away, capsys, place):
    assert run(["draft", str(card), "--place", place]) == 2
    assert "latitude" in capsys.readouterr().err.lower()
