"""The way through a plane plate against angles, and against a ray followed from face to face."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.demo.rays import Pane, Round, crossings
from audit.optics.glass import plate_shortening_mm


def traced_mm(tan_x, tan_y, plates, index=1.5):
    """By how much plates shorten the way to an opening 30 mm before the thread, by the demo's rays."""
    panes = [Pane(thickness, place, index) for place, thickness in plates]
    ((x, y),) = crossings(tan_x, tan_y, np.full_like(tan_x, 25.0), [Round(40.0, 30.0)], panes)
    return 55.0 - np.hypot(x, y) / np.hypot(tan_x, tan_y)


@pytest.mark.parametrize("plates", [[(12.0, 2.0)], [(8.0, 2.0), (11.2, 1.5), (20.0, 3.0)]])
@pytest.mark.parametrize("index", [1.49, 1.5, 1.8])
def test_one_plate_and_three_against_rays_through_both_faces(plates, index):
    """The demo's rays share no formula with the closed form; fields aslant to both axes too."""
    tan_x, tan_y = (a.ravel() for a in np.meshgrid(np.linspace(-1.8, 1.7, 15), np.linspace(-1.3, 1.2, 11)))
    found = plate_shortening_mm(np.hypot(tan_x, tan_y), sum(thickness for _, thickness in plates), index)
    np.testing.assert_allclose(found, traced_mm(tan_x, tan_y, plates, index), rtol=0, atol=1e-6)


def test_an_opening_within_a_plate_and_one_behind_it():
    """Rays meet the plates where they stand, whatever the order they are named in."""
    tan = np.array([1.0])
    openings = [Round(40.0, 13.0), Round(40.0, 11.0)]
    (within, _), (behind, _) = crossings(tan, 0 * tan, np.array([25.0]), openings, [Pane(2.0, 12.0)])
    assert behind == pytest.approx(36.0)
    assert within == pytest.approx(38.0 - float(plate_shortening_mm(1.0, 1.0)))


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
    """Young & Freedman, University Physics, 14th ed., problem 33.54: 24 mm, n 1.80, 66 deg: 1.62 cm aside.

    Known here from two web pages that quote it: the problem (solutioninn.com), and the same numbers worked
    out in a solutions manual (coursehero.com, 23.91); the book itself was not at hand.
    """
    angle = math.radians(66.0)
    aside = float(plate_shortening_mm(math.tan(angle), 24.0, 1.80)) * math.sin(angle)
    assert aside == pytest.approx(16.2, abs=0.05)


def test_no_glass_and_air_shorten_nothing_and_nan_stays():
    assert plate_shortening_mm([0.0, 1.0], 0.0).tolist() == [0.0, 0.0]
    assert plate_shortening_mm([0.0, 1.0], 2.0, 1.0) == pytest.approx([0.0, 0.0])
    assert math.isnan(plate_shortening_mm(math.nan, 2.0))
