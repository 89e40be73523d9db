"""Codes back to light: against the sRGB definition, known brackets and other tone curves."""

import numpy as np
import pytest

from audit.demo.camera import develop
from audit.optics.response import BRIGHTEST, COEFFICIENTS, DARKEST, light_stops


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
