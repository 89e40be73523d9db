"""Two pictures of one scene: brightness, range, shift, what moved, and when nothing can be said."""

import brackets
import foreign
import numpy as np
import pytest

from audit.demo.scene import paint
from audit.optics.response import COEFFICIENTS, GENERAL, Curve
from audit.pixels.pair import compare, err_stops
from audit.pixels.register import register

REACH = 27
"""Rows and columns painted beyond the frame on each side, for shifts."""


def taken(light, *, stops=0.0, curve="even", seed=1):
    lit = light * np.float32(brackets.MIDDLE_LIGHT * 2.0**stops)
    return foreign.grey(foreign.photograph(lit, curve, seed=seed))


def cut(shape, depth_stops):
    y, x = np.mgrid[-1 : 1 : shape[0] * 1j, -1 : 1 : shape[1] * 1j]
    radius = np.hypot(1.5 * x, y) / np.hypot(1.5, 1)
    return np.float32(2.0) ** np.float32(-depth_stops * np.clip((radius - 0.8) / 0.2, 0, 1) ** 1.5)[..., None]


def test_errors_by_true_step_with_the_general_curve():
    """A reduced sample of benchmarks/pairs.py, whose figures are printed where a bound breaks.

    The bounds up to 1.25 stops are wider than those of real cameras (0.03/0.10, 0.08/0.20): the six curves
    are steeper than the general one in the mid-tones, which no pair by itself can tell.
    """
    found = [[], [], [], []]
    for number, curve in enumerate(foreign.CURVES):
        for seed in range(1000 * number, 1000 * number + 3):
            for bright, dark, step in list(brackets.pairs(brackets.bracket(curve, seed)))[::2]:
                pair = compare(bright, dark, farthest_stops=np.inf)
                assert not pair.why and pair.shift_px == (0, 0) and pair.moved < 0.05
                found[np.searchsorted((0.5, 1.25, 2.25), step - 1e-9)].append(abs(pair.stops - step))
    figures = [(float(np.median(one)), float(np.quantile(one, 0.95))) for one in found]
    wanted = [(0.06, 0.20), (0.10, 0.29), (0.19, 0.49), (0.41, 0.68)]
    assert all(f[0] <= w[0] and f[1] <= w[1] for f, w in zip(figures, wanted, strict=True)), figures


def test_the_order_of_the_two_only_turns_the_sign():
    (a, _), (b, _), (_, _) = brackets.shots("crisp", 3, [0, 1.0, 2.0])
    one, other = compare(a, b), compare(b, a)
    assert one.stops > 0.8 and one.stops == pytest.approx(-other.stops, abs=0.03)
    assert np.nanmedian(one.ratio) == pytest.approx(-np.nanmedian(other.ratio), abs=1e-9)


def test_two_like_frames_are_alike_and_the_range_grows_with_the_difference():
    (a, _), (b, _), (c, _), (d, _) = brackets.shots("even", 4, [0, 0, 0.9, 1.7])
    pairs = [compare(a, other) for other in (b, c, d)]
    assert abs(pairs[0].stops) < 0.01
    errs = [pair.err_stops for pair in pairs]
    assert errs == sorted(errs)
    assert errs[0] == 0.1
    assert errs[2] > 0.3


def test_each_range_grows_with_the_difference_and_ends_where_nothing_is_told():
    own, doubted = Curve(COEFFICIENTS, 0.04, 1000), Curve(COEFFICIENTS, doubt="a phone")
    assert err_stops(0.3, own) == err_stops(-1.0, own) == pytest.approx(0.088)
    assert err_stops(2.5, own) == pytest.approx(0.22)
    for curve, end in ((own, 3.25), (GENERAL, 2.25), (doubted, 0.5)):
        errs = [err_stops(stops, curve) for stops in np.linspace(0, end, 20)]
        assert errs == sorted(errs)
        assert np.isnan(err_stops(end + 0.01, curve))
    assert err_stops(0.4, doubted) > 2 * err_stops(0.4, GENERAL) > 2 * err_stops(0.4, own)


def test_a_picture_of_unknown_processing_is_told_near_and_refused_far():
    (a, _), (b, _), (c, _) = brackets.shots("even", 4, [0, 0.3, 1.2])
    doubted = Curve(COEFFICIENTS, doubt="the sensor is as small as a phone's")
    near, far = compare(a, b, doubted), compare(a, c, doubted)
    assert near.stops == pytest.approx(0.3, abs=0.1)
    assert near.err_stops > 0.3
    assert far.why.endswith(
        "too far to measure with the general tone curve: the sensor is as small as a phone's"
    )


@pytest.mark.parametrize("stops", [0.3, 1.5, 3.25])
@pytest.mark.parametrize("seed", range(5))
def test_shifted_frames_are_laid_over_each_other(seed, stops):
    # Shifts in pixels of the photograph, a third of a cell each; corners cut away besides.
    down, right = (int(n) for n in np.random.default_rng((seed, 9)).integers(-REACH, REACH, 2))
    look = sorted(brackets.LOOKS)[seed]
    wide = paint(look, seed, 960 + 2 * REACH, 640 + 2 * REACH, 12.0, 0.9)
    here = wide[REACH:-REACH, REACH:-REACH]
    there = wide[REACH - down :, REACH - right :][:640, :960]
    a = taken(here, stops=0.3)
    b = taken(there * cut(there.shape, 6 * (seed % 2)), stops=0.3 - stops, seed=2)
    pair = compare(a, b, farthest_stops=np.inf)
    assert not pair.why
    assert pair.shift_px == pytest.approx((right / 3, down / 3), abs=1)
    still = compare(a, taken(here, stops=0.3 - stops, seed=2), farthest_stops=np.inf)
    assert pair.stops == pytest.approx(still.stops, abs=0.12)


def test_the_map_stays_in_the_first_picture_and_ends_where_the_second_does():
    wide = paint("tarn", 8, 360, 240, 12.0, 0.9)
    a, b = taken(wide[10:-10, 20:-20]), taken(wide[10:-10, 20:-20], seed=2)
    moved = np.roll(b, (4, -7), axis=(0, 1))
    pair = compare(a, moved)
    assert pair.shift_px == (-7, 4) and pair.ratio.shape == a.shape
    assert np.isnan(pair.ratio[:, :7]).all() and np.isnan(pair.ratio[-4:]).all()
    assert np.isfinite(pair.ratio[:-4, 7:]).mean() > 0.9


def test_an_even_sky_is_shifted_by_nothing():
    sky = np.linspace(0.8, 1.2, 320)[:, None, None] * np.ones((320, 480, 3))
    for stops in (0.0, -1.0, -2.0):
        pair = compare(taken(sky), taken(sky, stops=stops, seed=2), farthest_stops=np.inf)
        assert pair.shift_px == (0, 0) and not pair.why
        assert pair.stops == pytest.approx(-stops, abs=0.35 * abs(stops) + 0.02)
    even = np.full((213, 320), 90, np.uint8)
    assert register(even, even, GENERAL) == (0, 0) and compare(even, even).stops == 0


@pytest.mark.parametrize("depth", [0.5, 2, 6, 10])
@pytest.mark.parametrize("seed", range(5))
def test_a_cut_corner_stays_in_the_map_and_out_of_the_level(seed, depth):
    light = brackets.scene(seed)
    a, b = taken(light), taken(light, stops=-0.5, seed=2)
    worn = taken(light * cut(light.shape, depth), stops=-0.5, seed=2)
    bare, pair = compare(a, b), compare(a, worn)
    assert pair.stops == pytest.approx(bare.stops, abs=0.05) and pair.moved < 0.15
    corner = (pair.ratio - bare.ratio)[:6, :9]
    assert np.isnan(corner).all() or np.nanmax(corner) > 0.7 * min(depth, 2)
    assert np.nanmax(np.abs(pair.ratio - bare.ratio)[90:120, 120:200]) < 0.15


@pytest.mark.parametrize("share", [0.1, 0.2, 0.3])
def test_clouds_that_moved_do_not_count(share):
    light = brackets.scene(1)
    rows = int(320 * share)
    clouds = np.kron(np.random.default_rng(5).normal(0, 0.8, (rows // 8 + 1, 60)), np.ones((8, 8)))
    other = light.copy()
    other[:rows] *= np.float32(2.0) ** clouds[:rows, :, None].astype(np.float32)
    still = compare(taken(light), taken(light, stops=-0.7, seed=2))
    pair = compare(taken(light), taken(other, stops=-0.7, seed=2))
    assert pair.stops == pytest.approx(still.stops, abs=0.04)
    assert 0.5 * share < pair.moved < 1.2 * share


def test_two_compositions_are_not_compared():
    for seed in range(10):
        look = sorted(brackets.LOOKS)[seed % 5]
        a, b = (paint(look, s, 480, 320, 12.0, 0.9) for s in (seed, seed + 5))
        pair = compare(taken(a), taken(b, stops=-1, seed=2))
        assert "same picture" in pair.why or "moved" in pair.why
        assert np.isnan([pair.stops, pair.err_stops, pair.moved]).all() and np.isnan(pair.ratio).all()


def test_why_two_pictures_cannot_be_compared():
    light = brackets.scene(3)
    a = taken(light)
    assert compare(a, a[:-1]).why == "the two pictures differ in shape"
    assert compare(a, np.zeros_like(a)).why == "one of the two is too dark to compare"
    assert compare(np.full_like(a, 255), a).why == "one of the two is too bright to compare"
    assert compare(np.zeros_like(a), np.full_like(a, 255)).why.startswith("one of the two is too dark and")
    assert "bracket of three" in compare(a, taken(light, stops=-3.2)).why
    assert compare(a[:, 15:], a[:, :-15]).why == (
        "the camera moved between the two, by 4.9 % of the picture's long side"
    )


def test_tiny_pictures_do_no_harm():
    for shape in ((1, 1), (3, 2), (9, 40)):
        codes = np.full(shape, 90, np.uint8)
        assert compare(codes, codes).stops == 0
