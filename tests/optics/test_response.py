"""Codes back to light: against the sRGB definition, known brackets and other tone curves."""

import numpy as np
import pytest

from audit.demo.camera import develop
from audit.optics.response import BRIGHTEST, COEFFICIENTS, DARKEST, GENERAL, Curve, fit_curve, light_stops


def test_light_grows_with_the_code_and_its_ends_are_unknown():
    light = light_stops(np.arange(256))
    assert np.isnan(light[:DARKEST]).all() and np.isnan(light[BRIGHTEST + 1 :]).all()
    assert (np.diff(light[DARKEST : BRIGHTEST + 1]) > 0).all()


def test_the_series_leaves_the_middle_code_alone_and_flattens_the_shadows():
    # sRGB, IEC 61966-2-1: code 127.5 is 0.2140 of white. A camera's curve is an S: steep below the middle.
    light = light_stops([127, 128])
    assert light.mean() == pytest.approx(np.log2(0.2140), abs=0.01)
    srgb = np.log2((((np.array([25.0, 70.0]) / 255) + 0.055) / 1.055) ** 2.4)
    assert 0.5 < np.diff(light_stops([25, 70]))[0] / np.diff(srgb)[0] < 0.8


def test_the_series_by_hand():
    z = 60 / 255
    x = 2 * z - 1
    orders = [
        x,
        (3 * x**2 - 1) / 2,
        (5 * x**3 - 3 * x) / 2,
        (35 * x**4 - 30 * x**2 + 3) / 8,
        (63 * x**5 - 70 * x**3 + 15 * x) / 8,
        (231 * x**6 - 315 * x**4 + 105 * x**2 - 5) / 16,
    ]
    at_zero = [0, -1 / 2, 0, 3 / 8, 0, -5 / 16]
    by_hand = np.log2(((z + 0.055) / 1.055) ** 2.4)
    by_hand += sum(c * (p - p0) for c, p, p0 in zip(COEFFICIENTS, orders, at_zero, strict=True))
    assert light_stops(60) == pytest.approx(by_hand, abs=1e-12)


def test_half_a_stop_through_another_tone_curve_is_read_to_a_third():
    for exposure in (-1.0, 0.0, 1.0):
        light = np.full((64, 64, 3), 2.0**exposure, np.float32)
        bright, dark = (np.median(develop(light * np.float32(k), 100, 1)) for k in (1.0, 2.0**-0.5))
        read = light_stops(int(bright)) - light_stops(int(dark))
        assert read == pytest.approx(0.5, abs=0.3)


def test_shapes_are_kept():
    assert light_stops(np.zeros((3, 4), np.uint8)).shape == (3, 4)


def test_the_general_curve_is_what_codes_are_read_with():
    codes = np.arange(DARKEST, BRIGHTEST + 1)
    assert GENERAL.coefficients == COEFFICIENTS and not GENERAL.own and GENERAL.residual_stops is None
    assert (light_stops(codes) == light_stops(codes, GENERAL)).all()
    plain = light_stops(codes, Curve((0.0,) * 6))
    assert plain[100 - DARKEST] == pytest.approx(np.log2(((100 / 255 + 0.055) / 1.055) ** 2.4))


def exposures(curve, steps, seed=0, noise=0.0):
    """Codes of one set of cells through a known curve, at the first of `steps` and at each other."""
    rng = np.random.default_rng(seed)
    table = light_stops(np.arange(DARKEST, BRIGHTEST + 1), curve)
    light = rng.uniform(table[0], table[-1], 20_000)
    shots = [
        np.interp(light - step + rng.normal(0, noise, light.size), table, np.arange(DARKEST, BRIGHTEST + 1))
        for step in steps
    ]
    return [(shots[0].round(), shot.round(), step) for shot, step in zip(shots[1:], steps[1:], strict=True)]


OTHER = Curve((-0.9, 0.55, -0.05, 0.12, 0.02, 0.01))


def test_a_known_curve_is_found_again():
    codes = np.arange(12, 244)
    for noise in (0.0, 0.03):
        fitted = fit_curve(exposures(OTHER, [0, 0.7, 1.4, 2.8], noise=noise))
        off = light_stops(codes, fitted) - light_stops(codes, OTHER)
        assert fitted.own and fitted.samples > 20_000 and fitted.residual_stops < 0.05
        assert np.abs(off - np.median(off)).max() < 0.12 and off.std() < 0.04


def test_the_order_within_a_sample_does_not_matter():
    samples = exposures(OTHER, [0, 1.0, 2.0])
    turned = [(b, a, -stops) for a, b, stops in samples]
    assert fit_curve(samples).coefficients == pytest.approx(fit_curve(turned).coefficients, abs=1e-9)


def test_cells_that_moved_are_weighted_down():
    samples = exposures(OTHER, [0, 1.0, 2.0])
    for _, b, _ in samples:
        b[: len(b) // 5] = np.random.default_rng(3).integers(20, 240, len(b) // 5)
    codes = np.arange(20, 240)
    off = light_stops(codes, fit_curve(samples)) - light_stops(codes, OTHER)
    assert off.std() < 0.06


def test_no_curve_where_the_samples_say_nothing_or_nonsense():
    few = np.arange(20, 60)
    assert fit_curve([]) is None and fit_curve([(few, few - 5, 0.3)]) is None
    codes = np.repeat(np.arange(8, 248), 50)
    assert fit_curve([(codes, codes, 2.0)] * 3) is None
    assert fit_curve([(np.zeros(9000), np.zeros(9000), 1.0)]) is None
