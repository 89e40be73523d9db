"""Which way an undecided corner leans: by the band, and by what a picture or a stack shows."""

from math import isclose

import numpy as np
import pytest

from audit.corners.leaning import SHARES, Leaning, add_leanings, leaning
from audit.corners.predict import Geometry, predict
from audit.declare.rig import Opening, Rig
from audit.kit.kit import Lens

ANGLES = {
    "corner_3pct_deg": 44.0,
    "corner_tenth_deg": 44.4,
    "corner_onset_deg": 45.0,
    "corner_one_deg": 45.5,
    "corner_black_deg": 47.0,
}


def row(angle, early=2.0, late=2.0, **more):
    band = {"corner_angle_deg": angle, "corner_early_deg": early, "corner_late_deg": late}
    return {"corner_verdict": "at risk", **ANGLES, **band, **more}


def shown(stops, err=0.05, low=0.0, high=4.0):
    names = ("loss_stops", "loss_err_stops", "predicted_min_stops", "predicted_max_stops")
    return {f"shown_{name}": value for name, value in zip(names, (stops, err, low, high), strict=True)}


@pytest.mark.parametrize(
    ("angle", "towards"), [(43.2, "clear"), (44.4, "clear"), (45.6, "cut"), (46.5, "cut")]
)
def test_it_leans_to_the_side_on_which_the_corner_lies(table, angle, towards):
    found = add_leanings(table([row(angle)]))
    assert found["corner_leaning"].tolist() == [towards]
    assert found["corner_verdict"].tolist() == ["at risk"]
    assert found["corner_verdict_by"].tolist() == ["predicted"]


def test_the_chances_are_those_of_the_band(table):
    # A tenth of a stop is lost 1.2 degrees further out: 1.96 sigma are 2 degrees.
    (clear,) = add_leanings(table([row(43.2)]))["corner_clear_share"]
    assert clear == pytest.approx(0.880, abs=0.01)
    # Each side has its own width.
    (late,) = add_leanings(table([row(45.4, early=9.0, late=2.0)]))["corner_clear_share"]
    (same,) = add_leanings(table([row(45.4, early=2.0, late=2.0)]))["corner_clear_share"]
    assert late == pytest.approx(same, abs=0.1)


def test_quartiles_are_stops_that_a_person_can_use(table):
    found = add_leanings(table([row(45.0, early=1.0, late=1.0)]))
    (low,), (high,) = found["corner_likely_min_stops"], found["corner_likely_max_stops"]
    assert 0.1 < low < 0.5 < high < 1.0


def test_a_matched_pair_decides_where_it_leaves_no_doubt(table):
    found = add_leanings(
        table([row(45.0, **shown(0.0)), row(45.0, **shown(2.0)), row(45.0, **shown(0.5, err=1.5))])
    )
    assert found["corner_verdict"].tolist() == ["clear", "cut", "at risk"]
    assert found["corner_verdict_by"].tolist() == ["measured", "measured", "predicted and measured"]


def test_a_pair_that_contradicts_decides_nothing(table):
    found = add_leanings(table([row(45.0, contradiction="the corners lack 0.00", **shown(0.0))]))
    assert found["corner_verdict"].tolist() == ["at risk"]


def test_a_stack_of_dark_corners_speaks_against_clear_ones(table):
    plain, dark = row(44.0), row(44.0, stack_loss_stops=0.5, stack_threshold_stops=0.2)
    found = add_leanings(table([plain, dark]))
    assert found["corner_leaning"].tolist() == ["clear", "dark"]
    assert found["corner_clear_share"].tolist()[1] < 0.1 < found["corner_clear_share"].tolist()[0]


def test_what_is_decided_stays_as_it_is(table):
    rows = [row(40.0) | {"corner_verdict": verdict} for verdict in ("clear", "cut", "not measurable")]
    found = add_leanings(table(rows))
    assert found["corner_verdict"].tolist() == ["clear", "cut", "not measurable"]
    assert found["corner_leaning"].isna().all() and found["corner_clear_share"].isna().all()


def test_a_prediction_leans_as_its_row_would():
    rig = Rig("worn", "a ring", openings=(Opening("ring", 62.0, 4.0),))
    lens = Lens(id="w", focal_mm=(20, 20), pupil_depth_mm=25, pupil_depth_err_mm=2)
    prediction = predict(rig, Geometry(20.0, 8.0, 36.0, 24.0), lens)
    found = leaning(prediction)
    assert prediction.verdict == "at risk"
    assert 0 <= found.clear_share <= 1 and 0 <= found.cut_share <= 1
    assert found.low_stops <= found.high_stops


@pytest.mark.parametrize(
    ("clear", "cut", "words"),
    [
        (0.8, 0.1, "probably clear, 8 in 10"),
        (0.1, 0.72, "probably cut, 7 in 10"),
        (0.1, 0.1, "probably a little dark, 8 in 10"),
        (0.48, 0.45, "hard to tell: clear 5 in 10"),
        (0.999, 0.0, "probably clear, 9 in 10"),
    ],
)
def test_words(clear, cut, words):
    found = Leaning(clear, cut, 0.0, 1.0)
    assert found.words == words
    assert isclose(found.share, max(clear, cut, 1 - clear - cut))


def test_no_leaning_without_a_share():
    assert Leaning.of(dict.fromkeys(SHARES, np.nan)) is None
