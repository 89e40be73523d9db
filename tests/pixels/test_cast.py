"""Colour casts: found where a filter makes one, and never where none does."""

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from audit.pixels.cast import LEAST_UV, colour_cast

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def simulator():
    spec = importlib.util.spec_from_file_location("cast_sim", ROOT / "benchmarks" / "cast.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def taken(simulator):
    """A small picture of an invented valley, and one through a filter that takes a fifth of the blue."""
    light = simulator.paint("valley", 4, 480, 320, 13.0, 0.5) * np.float32(0.15)
    warm = light * np.array([1.0, 0.97, 0.8], np.float32)
    shots = (light, warm)
    return [simulator.sketch(simulator.foreign.photograph(x, "even", seed=i)) for i, x in enumerate(shots)]


def test_a_cast_has_size_and_direction(taken):
    cast = colour_cast(*taken, 0.1, True)
    assert cast.why == "" and cast.words.startswith("warmer")
    assert cast.uv > LEAST_UV and 20 < cast.mired < 70
    assert 0.006 < cast.err_uv < cast.uv
    back = colour_cast(taken[1], taken[0], -0.1, True)
    assert back.words.startswith("cooler") and back.mired < -20


def test_no_cast_is_said_to_be_none(taken):
    cast = colour_cast(taken[0], taken[0], 0.0, True)
    assert cast.uv < 0.0001 and cast.words == "none that shows"


def test_a_shifted_picture_shows_the_same_cast(taken):
    bare, worn = taken
    moved = replace(worn, grey=np.roll(worn.grey, 8, axis=1), colour=np.roll(worn.colour, 2, axis=1))
    assert colour_cast(bare, moved, 0.1, True).uv == pytest.approx(
        colour_cast(*taken, 0.1, True).uv, abs=0.002
    )


@pytest.mark.parametrize(
    ("stops", "fixed", "said"),
    [
        (0.1, False, "automatic white balance"),
        (0.6, True, "0.6 stops apart"),
        (-0.8, True, "0.8 stops apart"),
        (float("nan"), True, "cannot be compared"),
    ],
)
def test_what_cannot_be_told_says_why(taken, stops, fixed, said):
    cast = colour_cast(*taken, stops, fixed)
    assert said in cast.why
    assert np.isnan([cast.uv, cast.err_uv, cast.mired]).all() and cast.words == ""


def test_black_and_white_pictures_tell_nothing(taken):
    white = replace(taken[0], colour=np.full_like(taken[0].colour, 255))
    assert "too dark nor too bright" in colour_cast(taken[0], white, 0.1, True).why
    small = replace(taken[0], colour=taken[0].colour[:-1])
    assert "shape" in colour_cast(taken[0], small, 0.1, True).why


def test_pairs_without_a_filter_are_not_flagged(simulator):
    found = [simulator.found(3, curve, np.ones(3), seed=5) for curve in simulator.foreign.CURVES]
    told = [cast for one in found for cast in one.told]
    assert len(told) >= 14
    assert not [cast for cast in told if cast.uv > LEAST_UV]


def test_a_filter_thirty_mired_warmer_is_found(simulator):
    warm = simulator.filter_of(30.0)
    found = [simulator.found(3, curve, warm, seed=6) for curve in simulator.foreign.CURVES]
    told = [cast for one in found for cast in one.told]
    assert len(told) >= 12
    assert np.mean([cast.uv > LEAST_UV and cast.words.startswith("warmer") for cast in told]) >= 0.9
    assert np.median([cast.mired for cast in told]) == pytest.approx(30, abs=10)
    within = [abs(cast.uv - simulator.true_uv(warm)) <= cast.err_uv for cast in told]
    assert np.mean(within) >= 0.9
