"""Each check against rows that fire and rows that stay silent, kept in fixtures/checks/<id>.toml."""

import re
import tomllib
from pathlib import Path

import pytest
from marking import marking, untold_words, words_of

from audit.check import load_checks

CASES = Path(__file__).parents[2] / "fixtures" / "checks"
NOTHING = re.compile(r"\b(nan|None|NaT)\b|<NA>")
"""How Python writes what is not there: a reader must never meet it."""
CHECKS = {c.info.id: c for c in load_checks()}


def cases(kind):
    for check in CHECKS:
        file = CASES / f"{check}.toml"
        for case in tomllib.loads(file.read_text(encoding="utf-8")).get(kind, []) if file.is_file() else []:
            yield pytest.param(check, case, id=f"{check}: {case['what']}")


@pytest.mark.parametrize("check", CHECKS)
def test_every_check_has_cases_of_both_kinds(check):
    text = tomllib.loads((CASES / f"{check}.toml").read_text(encoding="utf-8"))
    assert text["fires"]
    assert text["silent"]


def said(finding):
    return " ".join((finding.cause, finding.seen, finding.expected, finding.by, finding.sure))


@pytest.mark.parametrize(("check", "case"), list(cases("fires")))
def test_fires(check, case, table):
    found = list(CHECKS[check].find(table(case["rows"])))
    assert [(f.level, len(f.frames)) for f in found] == [tuple(x) for x in case["found"]]
    for finding in found:
        assert finding.check == check
        assert finding.seen
        assert finding.expected
        assert finding.sure
        assert finding.advice
        assert not NOTHING.search(said(finding))
        if "seen" in case:
            assert case["seen"] in finding.seen


@pytest.mark.parametrize(("check", "case"), list(cases("fires")))
def test_every_word_can_be_told_in_another_language(check, case, table):
    frames = table(case["rows"])
    own = {w for column in frames for value in frames[column] for w in words_of(str(value))}
    language = marking()
    for finding in CHECKS[check].find(frames):
        for text in (finding.cause, finding.seen, finding.expected, finding.by, finding.sure, finding.advice):
            assert not untold_words(language.tell(text), own), text


@pytest.mark.parametrize(("check", "case"), list(cases("fires")))
def test_gear_without_a_name_is_told_as_unknown(check, case, table):
    nameless = {"lens": None, "lens_id": None, "body": None, "make": None, "model": None}
    for finding in CHECKS[check].find(table([row | nameless for row in case["rows"]])):
        assert not NOTHING.search(said(finding))


@pytest.mark.parametrize(("check", "case"), list(cases("silent")))
def test_stays_silent(check, case, table):
    assert list(CHECKS[check].find(table(case["rows"]))) == []


def test_a_table_of_no_frames_is_silent_everywhere(table):
    empty = table([{}]).iloc[:0]
    for check in CHECKS.values():
        assert list(check.find(empty)) == []
