"""Which filters prove off from their labels, and how that is told."""

import math
from dataclasses import replace

import pytest

from audit.kit.kit import Kit
from audit.pixels.evidence import FilterShown
from audit.pixels.labels import labels
from audit.report.labels import as_json, text

KIT = Kit.model_validate(
    {
        "filter": [
            {"id": "n10", "kind": "neutral", "stops": 10},
            {"id": "pol", "kind": "polariser", "stops": 1.5},
            {"id": "g2", "kind": "grad-hard", "stops": 2},
        ],
        "screw_in": [{"id": "s3", "thread_mm": 77, "kind": "neutral", "stops": 3}],
    }
)
SHOWN = FilterShown(
    filter="n10",
    declared_stops=(10.0, 10.0),
    stops=9.57,
    err_stops=0.21,
    held_err_stops=0.12,
    spread_stops=0.11,
    range_stops=(9.4, 9.7),
    pairs=5,
    scenes=3,
    frames=("a", "b", "c", "d", "e"),
    why="",
    cast_uv=math.nan,
    cast_err_uv=math.nan,
    cast_mired=math.nan,
    cast_words="",
    cast_why="automatic white balance, which hides a cast",
)


def judged(**more):
    return labels([replace(SHOWN, **more)], KIT)[0]


def test_a_filter_that_proves_off_gets_new_keys_rounded_honestly():
    one = judged()
    assert one.words == "takes 0.4 stops less than declared"
    assert one.values == {"measured_stops": 9.6, "measured_err_stops": 0.3}
    assert one.off_stops == pytest.approx(-0.43) and one.table == "filter"


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"stops": 9.85}, "as declared"),
        ({"err_stops": 0.6}, "not told from what is declared"),
        ({"err_stops": math.nan}, "not told from what is declared"),
        ({"pairs": 2}, "takes 0.4 stops less than declared; 3 pairs in 2 scenes would prove it"),
        ({"scenes": 1}, "takes 0.4 stops less than declared; 3 pairs in 2 scenes would prove it"),
        ({"stops": 6.0}, "takes 4.0 stops less than declared: is it another filter?"),
        ({"why": "never worn alone", "stops": math.nan}, "not measured: never worn alone"),
        ({"filter": "pol", "declared_stops": (1.5, 1.5), "stops": 2.2}, "changes with its turn"),
    ],
)
def test_others_stay_as_they_are(more, words):
    one = judged(**more)
    assert words in one.words and one.values == {}


def test_screw_in_filters_are_written_into_their_own_table():
    one = judged(filter="s3", declared_stops=(3.0, 3.0), stops=3.4)
    assert one.table == "screw_in" and one.values["measured_stops"] == 3.4


def test_the_table_and_the_json():
    found = labels([SHOWN, replace(SHOWN, filter="g2", stops=math.nan, why="a grad covers part")], KIT)
    head, row, *rest = text(found).splitlines()
    assert head.split()[:2] == ["filter", "declared"]
    assert "9.6 ± 0.2" in row and "5 pairs in 3 scenes" in row and "less than declared" in row
    assert rest == ["", "not measured:", "  g2: a grad covers part"]
    n10, g2 = as_json(found)
    assert n10["values"]["measured_stops"] == 9.6 and n10["cast_uv"] is None
    assert g2["stops"] is None and g2["off_stops"] is None
    assert text([]) == ""
