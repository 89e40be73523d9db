"""The ray sampler against geometry that can be worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from audit.demo.rays import Box, Bundle, Round, unobstructed

BUNDLE = Bundle(focal_length_mm=16, f_number=8, depth_mm=25)
RING = Round(radius_mm=37, distance_mm=4)
WAY_MM = 29.0
PUPIL_MM = 1.0


def test_all_passes_on_the_axis_and_where_the_bundle_is_inside():
    inside = (37 - PUPIL_MM) / WAY_MM * 0.999
    assert unobstructed([0, inside], [0, 0], BUNDLE, [RING]).tolist() == [1, 1]
    assert unobstructed(1.5, 1.5, BUNDLE, []) == 1


def test_black_beyond_the_last_touch():
    touch = (37 + PUPIL_MM) / WAY_MM
    assert unobstructed(touch * 1.0001, 0, BUNDLE, [RING]) == 0
    assert unobstructed(0, -touch * 1.0001, BUNDLE, [RING]) == 0


def test_about_half_where_the_middle_of_the_bundle_meets_the_rim():
    # Slightly less than half: the rim curves away. About r / (2 pi R) = .004 is missing.
    assert unobstructed(37 / WAY_MM, 0, BUNDLE, [RING]) == pytest.approx(0.496, abs=0.004)


def test_half_plane_matches_the_area_of_a_disc_segment():
    slit = Box(80, 1000, 4)
    for beyond in (-0.8, -0.3, 0.0, 0.4, 0.9):
        left = np.arccos(beyond) / np.pi - beyond * np.sqrt(1 - beyond**2) / np.pi
        got = unobstructed((40 + beyond * PUPIL_MM) / WAY_MM, 0, BUNDLE, [slit])
        assert got == pytest.approx(left, abs=0.004)


def test_opening_smaller_than_the_pupil_takes_the_ratio_of_areas():
    assert unobstructed(0, 0, BUNDLE, [Round(0.5, 4)]) == pytest.approx(0.25, abs=0.003)


def test_never_more_light_further_out():
    field = np.linspace(0, 1.6, 400)
    for openings in ([RING], [RING, Round(43, 11), Box(90, 400, 17)]):
        passed = unobstructed(field, 0.3 * field, BUNDLE, openings)
        assert (np.diff(passed) <= 0.003).all()
        assert passed[0] == 1 and passed[-1] == 0


def test_half_a_turn_changes_nothing():
    x, y = np.meshgrid(np.linspace(-1.3, 1.3, 21), np.linspace(-0.9, 0.9, 15))
    for angle in (0, 17, 45, 90):
        one = unobstructed(x, y, BUNDLE, [RING, Box(80, 60, 12, angle)])
        other = unobstructed(x, y, BUNDLE, [RING, Box(80, 60, 12, angle + 180)])
        np.testing.assert_allclose(one, other, atol=0.002)
        np.testing.assert_allclose(
            one, unobstructed(-x, -y, BUNDLE, [RING, Box(80, 60, 12, angle)]), atol=0.002
        )


def test_mirrored_rig_gives_a_mirrored_map():
    x, y = np.meshgrid(np.linspace(-1.3, 1.3, 21), np.linspace(-0.9, 0.9, 15))
    rig = [RING, Box(70, 400, 12)]
    passed = unobstructed(x, y, BUNDLE, rig)
    np.testing.assert_allclose(passed, passed[:, ::-1], atol=0.002)
    np.testing.assert_allclose(passed, passed[::-1], atol=0.002)


def test_quarter_turn_of_the_box_turns_the_map():
    wide, tall = Box(60, 90, 10), Box(90, 60, 10, 90)
    x = np.linspace(0.6, 1.0, 30)
    np.testing.assert_allclose(
        unobstructed(x, 0.2, BUNDLE, [wide]), unobstructed(x, 0.2, BUNDLE, [tall]), atol=0.002
    )


def test_turned_box_and_offsets_count_in_the_stated_directions():
    # Turned 45 degrees from x towards y: its width lies along (1, 1), so a field point there is cut last.
    long_way = Box(200, 20, 10, 45)
    assert unobstructed(0.9, 0.9, BUNDLE, [long_way]) == 1
    assert unobstructed(0.9, -0.9, BUNDLE, [long_way]) == 0
    aside = Round(10, 10, x_mm=20, y_mm=5)
    assert unobstructed(20 / 35, 5 / 35, BUNDLE, [aside]) == 1
    assert unobstructed(-20 / 35, 5 / 35, BUNDLE, [aside]) == 0


def test_two_openings_cut_at_least_as_much_as_each():
    x = np.linspace(0.8, 1.4, 60)
    both = unobstructed(x, 0.1, BUNDLE, [RING, Round(43, 11)])
    for one in (RING, Round(43, 11)):
        assert (both <= unobstructed(x, 0.1, BUNDLE, [one])).all()


def test_growth_widens_the_zone_and_drift_moves_it():
    grown = Bundle(16, 8, 25, radial_growth=1.8, tangential_growth=0.5)
    start = (37 - 1.5) / WAY_MM
    assert unobstructed(start, 0, BUNDLE, [RING]) == 1
    assert unobstructed(start, 0, grown, [RING]) < 1
    middle = 37 / WAY_MM
    drifting = Bundle(16, 8, 25, drift_mm=2)
    assert unobstructed(middle, 0, drifting, [RING]) == 0
    deeper = Bundle(16, 8, 25 + 2 * middle**2)
    assert unobstructed(middle, 0, drifting, [RING]) == unobstructed(middle, 0, deeper, [RING])


def test_same_seed_same_rays_and_other_seeds_agree_within_noise():
    x = np.linspace(1.1, 1.4, 40)
    first = unobstructed(x, 0.2, BUNDLE, [RING])
    np.testing.assert_array_equal(first, unobstructed(x, 0.2, BUNDLE, [RING]))
    np.testing.assert_allclose(first, unobstructed(x, 0.2, BUNDLE, [RING], seed=7), atol=0.006)


def test_shapes_are_kept():
    assert unobstructed(np.zeros((3, 1)), np.zeros(4), BUNDLE, [RING]).shape == (3, 4)
    assert unobstructed(0.0, 0.0, BUNDLE, [RING]).shape == ()
