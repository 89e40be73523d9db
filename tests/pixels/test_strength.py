"""Strength of filters: by hand, and over simulated trips in drifting light."""

import importlib.util
import math
import sys
from pathlib import Path

import numpy as np
import pytest

from audit.pixels.strength import MeasuredStrength, Sighting, pooled, strengths

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def simulator():
    spec = importlib.util.spec_from_file_location("strength_sim", ROOT / "benchmarks" / "strength.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def sighting(minute, ev100, picture=0.0, worn="", *, err=0.1, minute_err=0.0, ev_err=0.0):
    err = err if picture or worn else 0.0
    return Sighting(f"f{minute}", minute, minute_err, ev100, ev_err, picture, err, worn)


def test_exposure_and_picture_add_up():
    found = strengths([sighting(0, 12), sighting(1, 6, -0.4, "n6")])["n6"]
    assert found.stops == pytest.approx(6.4)
    assert found.held_err_stops == pytest.approx(0.1, abs=0.01)
    assert found.err_stops == pytest.approx(math.hypot(0.1, 0.3), abs=0.03)
    assert (found.count, found.why) == (1, "")


def test_bare_frames_before_and_after_take_the_drift_out():
    # The light rises by 0.3 stop a minute; the filter takes 6.
    scene = [sighting(0, 12), sighting(4, 6, 1.2, "n6", err=0.2), sighting(8, 12, 2.4, err=0.5)]
    found = strengths(scene)["n6"]
    assert found.stops == pytest.approx(6.0, abs=0.15)
    alone = strengths(scene[:2])["n6"]
    assert alone.stops == pytest.approx(4.8)
    assert alone.err_stops > 1.2 > 2 * found.err_stops


def test_frames_of_one_filter_narrow_it_and_other_filters_tell_of_the_light():
    one = strengths([sighting(0, 12), sighting(2, 6, 0.1, "n6")])["n6"]
    more = strengths([sighting(0, 12), *(sighting(t, 6, 0.1, "n6") for t in (2, 2.5, 3))])["n6"]
    assert more.count == 3 and more.err_stops < one.err_stops
    two = strengths(
        [sighting(0, 12), sighting(1, 6, 0.0, "n6"), sighting(2, 2, 0.0, "n10"), sighting(3, 12, 0.0)]
    )
    assert two["n6"].stops == pytest.approx(6, abs=0.05) and two["n10"].stops == pytest.approx(10, abs=0.05)


def test_what_widens_the_range():
    def err(**more):
        return strengths([sighting(0, 12), sighting(1, 6, 0.0, "n6", **more), sighting(2, 12, 0.0)])["n6"]

    plain = err()
    assert err(err=0.5).held_err_stops > 3 * plain.held_err_stops
    assert err(ev_err=0.3).held_err_stops == pytest.approx(math.hypot(0.3, plain.held_err_stops), abs=0.02)
    doubtful = err(minute_err=1.0)
    assert doubtful.held_err_stops == pytest.approx(plain.held_err_stops, abs=0.01)
    assert doubtful.err_stops > plain.err_stops + 0.003
    drifting = [sighting(0, 12), sighting(1, 6, 1.0, "n6", minute_err=1.0), sighting(2, 12, 2.0)]
    assert strengths(drifting)["n6"].err_stops > plain.err_stops + 0.15


def test_what_cannot_be_told_says_why():
    assert strengths([]) == {}
    assert strengths([sighting(0, 12)]) == {}
    alone = strengths([sighting(0, 6, 0.1, "n6")])["n6"]
    assert "no frame without filters" in alone.why and math.isnan(alone.stops)
    blind = strengths([sighting(0, 12), sighting(1, 6, math.nan, "n6")])["n6"]
    assert "no frame shows it" in blind.why


def measured(stops, held=0.1, err=0.3, count=1):
    return MeasuredStrength(stops, held, err, count, "")


def test_pooling_narrows_and_scatter_widens():
    alike = pooled([measured(9.6), measured(9.65), measured(9.55), measured(9.6)])
    assert alike.stops == pytest.approx(9.6) and alike.count == 4
    assert 0.07 < alike.held_err_stops < 0.1 < alike.err_stops < 0.3
    apart = pooled([measured(9.0), measured(10.2), measured(9.0), measured(10.2)])
    assert apart.stops == pytest.approx(9.6) and apart.err_stops > 0.5
    assert pooled([measured(9.6, err=0.1), measured(8.0, err=3.0)]).stops == pytest.approx(9.6, abs=0.1)


def test_pooling_nothing():
    assert pooled([]).why == "never measured"
    none = MeasuredStrength(math.nan, math.nan, math.nan, 0, "why not")
    assert pooled([none]).why == "why not"
    assert pooled([none, measured(6.0)]) == measured(6.0)


@pytest.mark.parametrize("label", [1.0, 2.0, 3.0, 6.0, 10.0])
def test_bias_and_coverage_over_simulated_trips(simulator, label):
    scenes, whole = [], []
    for found, true in simulator.trips(7, 80, label):
        scenes += [(one, true) for one in found]
        whole.append((pooled(found), true))
    scene, trip = simulator.score(scenes), simulator.score(whole)
    assert len(scene.off) > 350 and len(trip.off) == 80
    assert abs(scene.bias) < 0.04 and abs(trip.bias) < 0.03
    assert 0.90 <= scene.covered <= 0.99
    assert trip.covered >= 0.93
    assert np.quantile(np.abs(trip.off), 0.95) < 0.2
    assert np.median(trip.err) < 0.2


def test_bare_frames_on_both_sides_hold_where_the_light_drifts_as_fast_as_it_may(simulator):
    scenes = [(one, t) for all_, t in simulator.trips(8, 60, 6.0, after=True, slope=0.3) for one in all_]
    assert simulator.score(scenes).covered >= 0.93


def test_bias_and_coverage_through_pictures(simulator):
    found = [
        one
        for label in (2.0, 6.0, 10.0)
        for curve in sorted(simulator.foreign.CURVES)
        for one in simulator.scenes_pictured(9, 1, label, curve)
    ]
    score = simulator.score(found)
    assert len(score.off) >= 15
    assert abs(score.bias) < 0.12
    assert score.covered >= 0.9
