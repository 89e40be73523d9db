"""What a kit can make, and which of it exposure cannot tell apart."""

import numpy as np

from audit.exposure.states import MOST_CLASSES, class_words, extra_words, possible_states
from audit.kit.kit import Kit


def kit(*filters, slots=2):
    tables = [{"id": i, "kind": k, **more} for i, k, more in filters]
    return Kit.model_validate({"holder": [{"id": "main", "slots": slots}], "filter": tables})


def n(stops, name=None):
    return (name or f"n{stops}", "neutral", {"stops": float(stops)})


POL = ("pol", "polariser", {"round": True})
GRAD = ("g2", "grad-soft", {"stops": 2.0})


def words(states):
    return [class_words(c) for c in states.classes if not c.extra]


def test_sums_that_exposure_cannot_tell_apart_are_one_class():
    states = possible_states(kit(n(3), n(3, "old3"), n(6)))
    assert words(states) == [
        "no neutral",
        "about 3 stops: n3, or old3",
        "about 6 stops: n6, or n3 with old3",
        "about 9 stops: n3 with n6, or n6 with old3",
    ]


def test_density_and_stops_of_one_strength_are_one_class():
    states = possible_states(kit(n(3), ("d9", "neutral", {"density": 0.9})))
    assert "about 3 stops: d9, or n3" in words(states)


def test_slots_limit_what_is_worn_and_a_round_polariser_needs_none():
    one = possible_states(kit(n(3), n(6), POL, GRAD, slots=1))
    assert max(c.stops for c in one.classes) == 6
    assert {c.members[0] for c in one.classes if c.extra} == {(), ("n3",), ("n6",)}
    assert one.extras == ("pol", "g2")


def test_what_was_declared_is_possible():
    states = possible_states(kit(n(3), n(6), n(10), n(15), slots=1), [("n10", "n15")])
    assert any(c.stops == 25 for c in states.classes)


def test_a_large_kit_stays_cheap():
    states = possible_states(kit(*(n(s) for s in range(1, 11)), POL, slots=3))
    assert len(states.classes) <= 2 * MOST_CLASSES
    for one in (states.quick, states.slow):
        np.testing.assert_allclose(one.sum(axis=1), 1)
    assert states.start.sum() == 1 or np.isclose(states.start.sum(), 1)


def test_one_filter_is_changed_rather_than_three():
    states = possible_states(kit(n(3), n(6), n(10), slots=3))
    at = {c.members[0]: i for i, c in enumerate(states.classes)}
    bare, one, three = at[()], at[("n3",)], at[("n10", "n3", "n6")]
    assert states.quick[bare, one] > 100 * states.quick[bare, three]
    assert states.slow[bare, one] > states.slow[bare, three]


def test_without_filters_there_is_nothing_to_estimate():
    assert possible_states(kit()) is None
    assert possible_states(kit(("clear", "other", {"stops": 0.0}))) is None


def test_extras_in_words():
    assert extra_words(("pol", "g2"), "open") == "; perhaps pol or g2"
    assert extra_words(("pol",), "on") == "; pol on as well"
    assert extra_words(("pol",), "off") == extra_words((), "open") == ""
