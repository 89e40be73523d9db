"""What a setup's frames share is said once; what differs stands in the table."""

from __future__ import annotations

from audit.report.days import day_pages
from audit.report.setups import SetupView
from audit.report.site import in_order
from audit.report.values import FRAMES_A_TABLE, told_columns, values
from audit.report.view import page
from audit.result import Result


def setups(result: Result) -> list[SetupView]:
    shown = page(result)
    return [s for day in day_pages(result, in_order(result, shown)) for s in day.setups]


def test_each_frame_stands_once_and_each_fact_is_shared_or_a_column(module_trip: Result) -> None:
    found = setups(module_trip)
    assert sorted(row.frame.anchor for s in found for row in s.rows) == sorted(
        f"frame-{n}" for n in range(1, len(module_trip.frames) + 1)
    )
    for s in found:
        assert not {name for name, _ in s.shared} & set(s.columns)
        for n in range(len(s.columns)):
            assert len({row.cells[n] for row in s.rows if not row.frame.problem}) > 1


def test_a_letter_leads_to_what_the_frame_wore(module_trip: Result) -> None:
    for s in setups(module_trip):
        words = {worn.letter: worn.words for on in s.on for worn in on.worn}
        assert len(words) == sum(len(on.worn) for on in s.on)
        for row in s.rows:
            assert (row.letter == "") if row.frame.problem else words[row.letter] == row.frame.worn


def test_values_shared_by_all_are_told_once(module_trip: Result) -> None:
    rows, columns = module_trip.rows[:3], told_columns(module_trip.frames)
    (beside,) = values(rows, ["a", "b", "c"], columns)
    told = {row.name: row.words for _, group in beside.groups for row in group}
    assert len(told["make"]) == 1
    assert all(len(words) in (1, 3) for words in told.values())
    assert len(values(list(rows) * 4, ["x"] * 12, columns)) == 1 + 12 // FRAMES_A_TABLE


def test_serial_numbers_only_when_asked(module_trip: Result) -> None:
    for serials in (False, True):
        (beside,) = values(module_trip.rows[:1], ["a"], told_columns(module_trip.frames, serials=serials))
        assert any(row.name == "body serial" for _, g in beside.groups for row in g) is serials


def test_an_empty_trip_has_no_setups(empty_result: Result) -> None:
    assert setups(empty_result) == []
