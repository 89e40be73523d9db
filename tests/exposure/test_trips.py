"""Stated certainty on random trips whose light, metering and habits the estimate does not know."""

import pytest
from scoring import certainty, figures, pooled
from shooting import Habits
from trips import trip


@pytest.fixture(scope="module")
def usual():
    return [trip(seed) for seed in range(500, 516)]


@pytest.fixture(scope="module")
def table(usual):
    return pooled(usual)


def test_sure_is_seldom_wrong(table):
    found = figures(table)
    assert found["confident errors"] <= 0.005
    assert found["right where sure"] >= 0.985
    assert found["sure"] >= 0.3


def test_a_declared_frame_helps_its_setup(table):
    found = figures(table)
    assert found["right where the setup is declared in part"] >= 0.92
    assert found["right where the setup is declared in part"] > found["right where nothing is declared"]
    assert found["class offered holds the truth, all frames"] >= 0.95


def test_stated_certainty_is_about_what_is_observed(table):
    said = certainty(table)
    many = said[said["frames"] >= 150]
    assert ((many["stated"] - many["right"]) < 0.12).all()
    assert len(many) >= 4


def test_metering_and_drift_twice_as_bad_still_make_few_confident_errors():
    habits = Habits(metering=0.7, faster=2.0)
    found = figures(pooled([trip(seed, habits=habits) for seed in range(600, 608)]))
    assert found["confident errors"] <= 0.01


def test_the_sky_anchors_what_the_hour_by_the_clock_leaves_open(usual, table):
    """The clock tells day from night, so that few more are right; many more are sure, and rightly."""
    alone, known = figures(table), figures(pooled(usual, sky=True))
    assert known["right where nothing is declared"] > alone["right where nothing is declared"] - 0.01
    assert known["sure"] > alone["sure"] + 0.02
    assert known["right where sure"] >= 0.99
