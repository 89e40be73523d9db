"""A filter that is not what its label says: the measured strength counts, the label stays in the words."""

import pytest

from audit.declare import build_rig
from audit.declare.worn import Worn
from audit.kit.kit import Kit

KIT = Kit.model_validate(
    {
        "ring": [{"id": "r77", "thread_mm": 77}],
        "holder": [{"id": "main", "slots": 2}],
        "filter": [
            {"id": "n10", "kind": "neutral", "stops": 10, "measured_stops": 9.6, "measured_err_stops": 0.3},
            {"id": "n10d", "kind": "neutral", "density": 3.0, "measured_stops": 9.6},
            {"id": "same", "kind": "neutral", "stops": 6, "measured_stops": 6.0},
            {"id": "g2", "kind": "grad-hard", "stops": 2},
        ],
        "screw_in": [{"id": "s3", "thread_mm": 77, "kind": "neutral", "stops": 3, "measured_stops": 3.2}],
    }
)


@pytest.mark.parametrize(
    ("slots", "least", "stops"),
    [
        (("n10",), 9.6, "9.6 stops, measured (10 by its label)"),
        (("n10d",), 9.6, "9.6 stops, measured (10 by its label)"),
        (("same",), 6.0, "6 stops, measured (6 by its label)"),
        (("n10", "g2"), 9.6, "9.6 stops at the bottom, 11.6 in the sky, by measured strengths"),
    ],
)
def test_the_measured_strength_is_summed_and_the_label_told(slots, least, stops):
    rig = build_rig(Worn(files=("X",), ring="r77", holder="main", slots=slots), KIT)
    assert rig.even_stops == (least, least)
    assert rig.stops_words == stops
    if slots[0].startswith("n10"):
        assert "10-stop neutral" in rig.words


def test_screw_in_filters_too():
    screwed = KIT.screw_ins[0]
    assert (screwed.loss_stops, screwed.label_stops) == ((3.2, 3.2), (3.0, 3.0))
