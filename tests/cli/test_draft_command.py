"""`cornerstop draft` on the demo trip without its notes: printed, corrected, audited."""

import json
import os
import shlex
import shutil
import subprocess

import pytest

from audit.cli.entry import run
from audit.cli.pasted import quoted


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
    assert 'source = "estimated"' in out and "bare = true" not in out
    assert "What you could settle" in out
    assert "nothing written" in out
    assert sums(card) == before


def test_draft_corrected_by_hand_and_audited(card, away, capsys):
    notes = away / "notes"
    base = ["draft", str(card), "--no-cache", "--declarations", str(notes), "--quiet"]
    assert run([*base, "--write"]) == 1
    written = sorted(notes.rglob("filters.toml"))
    assert written
    again = sums(notes)
    for _ in range(2):
        assert run([*base, "--write"]) == 1
        assert sums(notes) == again
    text = written[0].read_text()
    lone = next(p for p in text.split("\n\n") if "[draft likely none " in p)
    mine = "\n".join(line for line in lone.split("\n") if "source" not in line)
    mine = "\n".join("bare = true" if line.startswith("neutral") else line for line in mine.split("\n"))
    written[0].write_text(text.replace(lone, mine))
    assert run([*base, "--write"]) in (0, 1)
    assert mine in written[0].read_text()
    audit = ["audit", str(card), "--declarations", str(notes), "--no-cache", "--pixels", "off", "--json"]
    assert run([*audit, "--out", str(away / "report")]) in (0, 1)
    counts = json.loads(capsys.readouterr().out)["counts"]["frames_by_declaration"]
    assert counts["bare"] > 0 and counts["no-neutral"] > 0
    again = sums(notes)
    assert run(base) in (0, 1)
    assert sums(notes) == again


def test_what_was_accepted_is_the_photographers_and_the_rest_is_drafted_again(card, away, capsys):
    base = ["draft", str(card), "--no-cache"]
    assert run([*base, "--accept", "likely"]) == 2
    assert f"run `cornerstop draft {card} --write`" in capsys.readouterr().err
    assert run([*base, "--write", "--quiet"]) == 1
    before = sums(card)
    assert run([*base, "--accept", "likely"]) == 0
    out = capsys.readouterr().out
    assert '-source = "estimated"' in out and "bare = true" not in out
    assert "accepted as without a neutral" in out and "nothing written" in out
    assert '-neutral = "none"' not in out
    assert sums(card) == before
    assert run([*base, "--accept", "likely", "--bare", "--write"]) == 0
    assert "the file as it was" in capsys.readouterr().out
    after = "".join(p.read_text() for p in card.rglob("filters.toml"))
    assert "bare = true" in after and "[draft likely" not in after and "[draft sure" not in after
    backups = {p.read_bytes() for p in card.rglob("filters.toml.bak")}
    assert backups <= set(before.values()) and backups
    pictures = {p: data for p, data in before.items() if not p.name.startswith("filters.toml")}
    assert pictures.items() <= sums(card).items()
    kept = [p for p in after.split("\n\n") if "accepted from the draft" in p]
    assert run([*base, "--write", "--quiet"]) in (0, 1)
    final = "".join(p.read_text() for p in card.rglob("filters.toml"))
    assert all(one.strip() in final for one in kept)
    assert run([*base, "--accept", "sure", "--write", "--quiet"]) in (0, 1, 2)


def drafted_ends(card):
    """First and last frame of each drafted span that could be accepted."""
    texts = [p.read_text() for p in sorted(card.rglob("filters.toml"))]
    spans = [p for text in texts for p in text.split("\n\n") if "[draft likely" in p or "[draft sure" in p]
    found = [next(line for line in p.split("\n") if "files = " in line) for p in spans]
    return [(names[0], names[-1]) for names in (json.loads(line.split("= ", 1)[1]) for line in found)]


def test_only_spans_of_the_frames_asked_for_are_accepted(card, away, capsys):
    base = ["draft", str(card), "--no-cache"]
    assert run([*base, "--write", "--quiet"]) == 1
    first, last = next((a, b) for a, b in drafted_ends(card) if a != b)
    capsys.readouterr()
    accept = [*base, "--accept", "likely", "--bare", "--json"]
    assert run([*accept, "--files", first, last]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["spans"] == 1 and told["left_out"] == {"beyond": 0, "covered": 0} and told["no_neutral"] == 0
    assert run([*accept, "--files", first, first]) == 1
    assert json.loads(capsys.readouterr().out)["left_out"]["beyond"] == told["frames"]
    assert run([*accept, "--times", "2020-01-01T00:00", "2040-01-01T00:00"]) == 0
    assert json.loads(capsys.readouterr().out)["spans"] > 1


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--bare",), "--accept likely"),
        (("--files", "a", "b"), "--accept likely"),
        (("--accept", "sure", "--files", "a", "b", "--times", "a", "b"), "keep one"),
        (("--accept", "sure", "--times", "2026-05-02", "2026-05-03"), "2026-05-02T05:10:00"),
        (("--accept", "sure", "--times", "2026-05-03T10:00", "2026-05-02T10:00"), "swap the two"),
        (("--accept", "sure", "--times", "2001-01-01T10:00", "2001-01-02T10:00"), "write true local times"),
        (("--accept", "sure", "--files", "TARN9999_", "TARN9999_"), "did you mean"),
    ],
)
def test_what_cannot_be_accepted_is_refused_with_what_to_do(card, away, capsys, options, said):
    assert run(["draft", str(card), "--no-cache", "--pixels", "off", "--write", "--quiet"]) == 1
    before = sums(card)
    assert run(["draft", str(card), "--no-cache", "--write", *options]) == 2
    assert said in capsys.readouterr().err
    assert sums(card) == before


def test_a_span_covered_since_is_not_accepted_but_taken_out(card, away, capsys):
    base = ["draft", str(card), "--no-cache", "--pixels", "off"]
    assert run([*base, "--write", "--quiet"]) == 1
    (card / "filters.toml").write_text(
        "[[worn]]\ntimes = [2020-01-01T00:00:00, 2040-01-01T00:00:00]\nunknown = true\n"
    )
    assert run([*base, "--accept", "likely", "--bare", "--write"]) == 1
    assert "drafts again" in capsys.readouterr().out
    assert run([*base, "--write"]) == 0
    assert "written" in capsys.readouterr().out
    texts = [p.read_text() for p in card.rglob("filters.toml")]
    assert not any("[draft" in text for text in texts)
    assert run(base) == 0
    assert "nothing to draft" in capsys.readouterr().out


def test_without_a_filter_in_the_kit_it_says_what_to_do(card, away, capsys):
    (card / "kit.toml").write_text('[[body]]\nname = "A"\nmodel = "Brattholm Tarn"\n')
    assert run(["draft", str(card), "--no-cache"]) == 2
    assert "no filter in the kit" in capsys.readouterr().err


@pytest.mark.parametrize("place", ["61.5", "north,east", "161,5", "5;6"])
def test_a_place_that_is_none_is_refused(card, away, capsys, place):
    assert run(["draft", str(card), "--place", place]) == 2
    assert "latitude" in capsys.readouterr().err.lower()


def printed(out):
    """The commands that answer the questions, as they are printed."""
    return [line.strip() for line in out.splitlines() if line.startswith("     cornerstop draft ")]


def test_the_command_under_a_question_answers_it_when_pasted(card, away, capsys):
    odd = away / "it's a $card; #1"
    shutil.copytree(card, odd)
    base = ["draft", str(odd), "--no-cache", "--pixels", "off"]
    assert run([*base, "--write"]) == 1
    pasted = printed(capsys.readouterr().out)
    assert 0 < len(pasted) <= 5
    before = sums(odd)
    words = shlex.split(pasted[0])
    told = subprocess.run(
        ["bash", "-c", f'cornerstop() {{ printf "%s\\0" "$@"; }}; {pasted[0]}'],
        capture_output=True,
        check=True,
    )
    assert told.stdout.decode().split("\0")[:-1] == words[1:]
    assert str(odd) in words and words[1:2] == ["draft"] and "--pixels=off" in words
    shown = [word for word in words[1:] if word != "--write"]
    assert run(shown) in (0, 1) and "+# answered: " in capsys.readouterr().out
    assert sums(odd) == before
    assert run(words[1:]) in (0, 1)
    out = capsys.readouterr().out
    assert "the file as it was" in out and "answered; " in out
    after = {p: data for p, data in sums(odd).items() if p.name == "filters.toml"}
    assert sum(data.count(b"# answered: ") for data in after.values()) == 1
    assert {p.read_bytes() for p in odd.rglob("filters.toml.bak")} <= set(before.values())
    again = sums(odd)
    for repeated in (words[1:], [*base, "--write"]):
        assert run(repeated) in (0, 1)
        assert sums(odd) == again
    assert pasted[0] not in printed(capsys.readouterr().out)


def test_answers_in_json_and_beside_accept(card, away, capsys):
    base = ["draft", str(card), "--no-cache", "--pixels", "off"]
    assert run([*base, "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert len(told["asked"]) == len(told["questions"]) and told["answered"] == 0
    assert all(one["answer"].endswith(f"--say {one['frames']} {one['guess']}") for one in told["asked"])
    assert run([*base, "--say", told["asked"][0]["frames"], "unknown", "--json"]) in (0, 1)
    assert json.loads(capsys.readouterr().out)["answered"] > 0
    assert run([*base, "--say", "TARN0001", "bare", "--accept", "likely"]) == 2
    assert "one after the other" in capsys.readouterr().err


@pytest.mark.parametrize(
    "word", ["a b", "it's", "$x", "caf\u00e9", "a\nb", "a\u00a0b\\'c", "b\udcff\x1b", ""]
)
def test_whatever_is_in_a_name_the_shell_gives_it_back(word):
    told = subprocess.run(["bash", "-c", f"printf '%s' {quoted(word)}"], capture_output=True, check=True)
    assert told.stdout == os.fsencode(word)
    assert quoted(word).isprintable()
