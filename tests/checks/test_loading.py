"""A check that lacks something fails at load, by name; one that breaks does not end the run."""

import types

import pytest

from audit import check as checks
from audit.finding import CheckInfo
from audit.table.columns import BY_NAME

GOOD = {
    "__doc__": "Why.",
    "ID": "made-up",
    "NEEDS": ("iso",),
    **dict.fromkeys(("TITLE", "THRESHOLD", "SOURCE", "ADVICE"), "text"),
}


def load(monkeypatch, **changes):
    module = types.ModuleType("made_up")
    module.__file__ = "made_up.py"
    module.find = lambda frames: []
    for name, value in {**GOOD, **changes}.items():
        setattr(module, name, value)
    monkeypatch.setattr(checks.importlib, "import_module", lambda _: module)
    return checks._load("made_up")


def test_a_whole_check_loads(monkeypatch):
    assert load(monkeypatch).info.id == "made-up"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"SOURCE": None}, "SOURCE is missing"),
        ({"ID": "other"}, "differs from the file name"),
        ({"__doc__": ""}, "docstring"),
        ({"NEEDS": ("isso",)}, "isso"),
        ({"find": lambda table, more: []}, "find must take the table"),
    ],
)
def test_what_is_missing_is_named(monkeypatch, changes, words):
    with pytest.raises(TypeError, match="made_up.py: .*" + words):
        load(monkeypatch, **changes)


def made(find, needs=("iso",)):
    return checks.Check(CheckInfo("made-up", "t", "w", "t", "s", "a", needs), find)


def test_a_broken_check_is_told_and_the_others_run(table):
    def broken(frames):
        raise ZeroDivisionError("by nothing")

    findings, runs = checks.run_checks(table([{"problem": "empty"}]), [made(broken), *checks.load_checks()])
    assert runs[0].outcome == "failed: ZeroDivisionError: by nothing"
    assert [f.check for f in findings] == ["unreadable"]


def test_silence_is_not_a_verdict(table):
    frames = table([{"iso": None}])
    _, [missing] = checks.run_checks(frames.drop(columns="ev100"), [made(lambda f: [], ("ev100",))])
    _, [empty] = checks.run_checks(frames, [made(lambda f: [], ("iso",))])
    assert missing.outcome == "not run: the table has no ev100"
    assert empty.outcome == "not run: no frame has iso"


def test_every_check_needs_only_columns_of_the_table():
    for check in checks.load_checks():
        assert set(check.info.needs) <= set(BY_NAME)


def test_worst_comes_first(table):
    rows = [
        {"problem": "empty"},
        {"notes": ["f/0: left out"], "notes_about": ["value left out"]},
        {"captured_at": "", "counter": None},
    ]
    findings, _ = checks.run_checks(table(rows))
    assert [f.level for f in findings] == ["act", "look", "note"]


def test_a_column_that_no_frame_has_may_be_what_a_check_looks_for(table):
    frames = table([{"captured_at": "", "clock_ahead_s": None}] * 2)
    findings, _ = checks.run_checks(frames)
    assert [f.check for f in findings] == ["time-missing"]


def test_clocks_are_compared_without_a_kit(table):
    rows = [{"clock_ahead_s": None, "utc_offset_min": 120}, {"utc_offset_min": 60, "body": "B"}]
    findings, _ = checks.run_checks(table([{**row, "clock_ahead_s": None} for row in rows]))
    assert [f.check for f in findings] == ["clock-offset"]
