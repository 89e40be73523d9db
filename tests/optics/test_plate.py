"""The way through a plane plate against angles, and against a ray followed from face to face."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.optics.plate import plate_shortening_mm


def followed(direction, thickness, index):
    """Height lost to a plate by a ray, with Snell's law as vectors: n (d' x z) = d x z."""
    d = np.asarray(direction, dtype=float)
    d /= np.linalg.norm(d)
    across = d - d[2] * np.array([0, 0, 1.0])
    inside = across / index
    inside[2] = math.sqrt(1 - inside @ inside)
    point = inside * thickness / inside[2]
    in_air = d * thickness / d[2]
    return np.linalg.norm(in_air[:2] - point[:2])


@given(st.floats(0.01, 85), st.floats(0, 10), st.floats(1, 2))
def test_closed_form_in_angles(degrees, thickness, index):
    angle = math.radians(degrees)
    inside = math.asin(math.sin(angle) / index)
    expected = thickness * (1 - math.tan(inside) / math.tan(angle))
    assert plate_shortening_mm(math.tan(angle), thickness, index) == pytest.approx(expected, abs=1e-6)


@given(st.floats(-4, 4), st.floats(-4, 4), st.floats(0, 10), st.floats(1, 2))
def test_a_ray_followed_through_both_faces(x, y, thickness, index):
    tangent = math.hypot(x, y)
    shortened = float(plate_shortening_mm(tangent, thickness, index))
    assert shortened * tangent == pytest.approx(followed((x, y, 1.0), thickness, index), abs=1e-6)


def test_near_the_axis_a_third_of_the_thickness():
    """t (n - 1) / n, which is t / 3 at n = 1.5: textbooks, from memory."""
    assert plate_shortening_mm(0.0, 3.0, 1.5) == pytest.approx(1.0, abs=1e-12)


def test_the_worked_example_of_a_textbook():
    """Young & Freedman, University Physics, 14th ed., problem 33.54: 24 mm, n 1.80, 66 deg: 1.62 cm aside."""
    angle = math.radians(66.0)
    aside = float(plate_shortening_mm(math.tan(angle), 24.0, 1.80)) * math.sin(angle)
    assert aside == pytest.approx(16.2, abs=0.05)


def test_no_glass_and_air_shorten_nothing_and_nan_stays():
    assert plate_shortening_mm([0.0, 1.0], 0.0).tolist() == [0.0, 0.0]
    assert plate_shortening_mm([0.0, 1.0], 2.0, 1.0) == pytest.approx([0.0, 0.0])
    assert math.isnan(plate_shortening_mm(math.nan, 2.0))
