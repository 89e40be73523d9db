"""From a row of the table and a rig to the properties of a sidecar."""

import re
from math import inf, nan
from pathlib import Path

import pandas as pd
import pytest

from audit.declare.rig import Rig
from audit.kit.kit import Kit
from audit.table.columns import records
from audit.xmp.known import OWN_PROPERTIES, known
from audit.xmp.names import DATE_CREATED, F_NUMBER

PAGE = Path(__file__).parents[2] / "docs" / "xmp.md"
KIT = Kit.model_validate(
    {
        "filter": [
            {"id": "n10", "kind": "neutral", "density": 3.0, "measured_stops": 9.8},
            {"id": "g2", "kind": "grad-soft", "stops": 2},
            {"id": "pol", "kind": "polariser"},
        ]
    }
)
RIG = Rig("worn", "words", ring="r77", holder="main", filters=("n10", "g2", "pol"))
WORN = {
    "declaration": "worn",
    "rig_words": "77 mm ring, holder: 10-stop neutral",
    "even_stops_min": 10.8,
    "even_stops_max": 11.8,
    "grad_stops": 2.0,
    "clock_at": pd.Timestamp("2026-05-02 10:00:00.5"),
    "utc_offset_min": 120,
    "corner_verdict": "at risk",
    "corner_verdict_by": "predicted",
    "corner_loss_min_stops": 0.0,
    "corner_loss_stops": 0.25,
    "corner_loss_max_stops": inf,
    "clean_crop": "10, 20, 3000, 2000",
    "clean_crop_share": 0.98765,
}
GUESS = {
    "estimated_sure": "likely",
    "estimated_stops": 10.0,
    "estimated_err_stops": 0.3,
    "estimated_class": "n10, or n4 with n6",
}


@pytest.fixture
def of(table):
    """What is known of one frame."""
    return lambda rig=RIG, **row: known(records(table([{**WORN, **row}]))[0], rig, KIT)


def test_what_was_worn(of):
    found = of()
    assert found.own == {
        "Schema": "1",
        "Declaration": "worn",
        "DeclarationBy": "declared",
        "WornWords": "77 mm ring, holder: 10-stop neutral",
        "Ring": "r77",
        "Holder": "main",
        "Filters": ("n10", "g2", "pol"),
        "FilterKinds": ("neutral", "grad-soft", "polariser"),
        "FilterStopsMin": ("9.8", "2", "1"),
        "FilterStopsMax": ("9.8", "2", "2"),
        "FilterStopsBy": ("measured", "declared", "assumed"),
        "StopsExpectedMin": "10.8",
        "StopsExpectedMax": "11.8",
        "GradStopsExpected": "2",
        "CornerVerdict": "at risk",
        "CornerVerdictBy": "predicted",
        "CornerLossMin": "0",
        "CornerLoss": "0.25",
        "CleanCrop": "10, 20, 3000, 2000",
        "CleanCropShare": "0.988",
        "ClockTime": "2026-05-02T10:00:00.5",
    }
    assert found.keywords == ("n10", "g2", "pol")
    assert found.description == WORN["rig_words"]
    assert found.simple == {}


def test_an_estimate_is_called_one_and_is_neither_keyword_nor_description(of):
    found = of(declaration_source="estimated", **GUESS)
    assert found.own["DeclarationBy"] == "estimated"
    assert (found.keywords, found.description) == ((), "")
    assert found.own["EstimatedStops"] == "10" and found.own["EstimatedSure"] == "likely"


def test_the_photographers_word_needs_no_estimate(of):
    assert "EstimatedStops" not in of(**GUESS).own
    forgotten = of(Rig("unknown", "not known"), declaration="unknown", **GUESS)
    assert forgotten.own["EstimatedStops"] == "10" and forgotten.description == ""


def test_without_a_declaration(of):
    found = of(None, declaration="undeclared", declaration_source=None, rig_words=None, **GUESS)
    assert "Declaration" not in found.own and found.own["EstimatedFilters"] == "n10, or n4 with n6"
    assert (found.keywords, found.description) == ((), "")


def test_raw_and_corrected_time_are_two_properties(of):
    found = of(clock_ahead_s=-95.0, captured_at=pd.Timestamp("2026-05-02 10:01:35.5"))
    assert found.own["ClockTime"] == "2026-05-02T10:00:00.5"
    assert found.own["ClockAhead"] == "-95"
    assert found.own["CorrectedTime"] == "2026-05-02T10:01:35.5+02:00"
    assert found.simple == {DATE_CREATED: "2026-05-02T10:01:35.5+02:00"}
    west = of(clock_ahead_s=1.0, captured_at=pd.Timestamp("2026-05-02 09:59"), utc_offset_min=-210)
    assert west.own["CorrectedTime"].endswith("-03:30")
    unzoned = of(clock_ahead_s=1.0, captured_at=pd.Timestamp("2026-05-02 09:59"), utc_offset_min=None)
    assert unzoned.own["CorrectedTime"] == "2026-05-02T09:59:00"


def test_an_f_number_that_no_contacts_told(of):
    assert of(f_number=2.8, f_number_basis="declared").simple == {F_NUMBER: "14/5"}
    assert of(f_number=8.0, f_number_basis="kit").simple == {F_NUMBER: "8/1"}
    assert of(f_number=8.0, f_number_basis="third").simple == {}


def test_black_corners_and_missing_numbers(of):
    found = of(corner_loss_stops=inf, clean_crop_share=nan)
    assert found.own["CornerBlack"] == "True"
    assert not {"CornerLoss", "CleanCropShare"} & set(found.own)


def test_nothing_known_is_not_worth_a_file(table):
    row = records(table([{"declaration_source": None, "declaration": "undeclared", "rig_words": None}]))[0]
    row |= dict.fromkeys(("even_stops_min", "even_stops_max", "grad_stops"), nan)
    assert not known(row, None, KIT).worth_a_file
    assert known(row, RIG, KIT).worth_a_file


def test_words_are_cleaned_for_xml(of):
    rig = Rig("worn", "w", filters=("a\x00b", " c \ud800"), ring="r\n1")
    assert of(rig, rig_words="x\x07").keywords == ("a\\x00b", "c \\ud800")


def test_every_property_is_documented():
    """Name, type and unit of each in the page, and no other."""
    rows = re.findall(
        r"^\| `(\w+)` \| ([\w ]+) \| ([^|]*) \| ([^|]+) \| ([^|]*) \|$", PAGE.read_text("utf-8"), re.M
    )
    assert [tuple(part.strip() for part in row) for row in rows] == [tuple(p) for p in OWN_PROPERTIES]
