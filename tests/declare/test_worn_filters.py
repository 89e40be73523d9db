"""What the join says of a rig's filters beyond their sum, and of the eyepiece."""

import math

import pandas as pd

from audit.declare.join import neutral_stops, of_rigs, ungasketed
from audit.declare.rigs import build_rig
from audit.declare.worn import Worn
from audit.kit.gear import add_gear
from audit.kit.kit import Kit

KIT = Kit.model_validate(
    {
        "body": [{"name": "A", "model": "Brattholm Tarn", "viewfinder": "optical"}],
        "ring": [{"id": "r77", "thread_mm": 77}],
        "screw_in": [{"id": "s6", "thread_mm": 77, "kind": "neutral", "stops": 6}],
        "holder": [{"id": "main", "slots": 3}],
        "filter": [
            {"id": "n10", "kind": "neutral", "stops": 10, "gasket": True},
            {"id": "n6", "kind": "neutral", "stops": 6},
            {"id": "n3", "kind": "neutral", "stops": 3},
            {"id": "g2", "kind": "grad-hard", "stops": 2},
            {"id": "pol", "kind": "polariser", "round": True},
        ],
    }
)


def rig(**keys):
    return build_rig(Worn(ring="r77", holder="main", **keys), KIT)


def test_neutrals_without_polariser_and_grads():
    assert neutral_stops(rig(slots=["n6", "n3", "g2"], front="pol"), KIT) == 9
    assert neutral_stops(rig(slots=["n3"], behind=["s6"]), KIT) == 9
    assert neutral_stops(build_rig(Worn(bare=True), KIT), KIT) == 0


def test_only_strong_filters_in_slots_want_a_gasket():
    assert ungasketed(rig(slots=["n10", "n6", "n3"]), KIT) == ("n6",)
    assert ungasketed(rig(slots=["n10"], behind=["s6"]), KIT) == ()


def test_no_rig_says_nothing():
    one = rig(slots=["n6"])
    first, none, again = of_rigs([one, None, one], KIT)
    assert first == again == (6.0, ("n6",))
    assert math.isnan(none[0])
    assert none[1] == ()


def test_the_viewfinder_comes_from_the_kit(table):
    out = add_gear(table([{"model": "Brattholm Tarn"}, {"model": "another"}]), KIT)
    assert out["viewfinder"].iloc[0] == "optical"
    assert pd.isna(out["viewfinder"].iloc[1])
