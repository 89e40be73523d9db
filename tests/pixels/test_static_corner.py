"""Corners of a bare and a worn frame of one scene: found, not invented, refused where nothing can be said."""

import cut_pairs
import numpy as np
import pytest
from cut_pairs import pair, through

from audit.pixels.pair import Pair, compare
from audit.pixels.regions import CORNER
from audit.pixels.static import corner_loss, corner_mean

SOME = range(0, 30, 2)


def measured(bare, worn):
    return corner_loss(bare, worn, compare(bare, worn))


def truth(loss, focal=20, f_number=8):
    passed = cut_pairs.cut(focal, f_number, loss, (cut_pairs.HIGH, cut_pairs.WIDE))
    corner = cut_pairs.radius(passed.shape) > CORNER
    return float(-np.log2(np.maximum(passed[corner], 2.0**-10)).mean())


@pytest.mark.parametrize("drift", [0.0, 0.1])
def test_half_a_stop_in_the_extreme_corner_is_found(drift):
    found = [measured(*pair(n, loss=0.5, drift=drift)) for n in SOME]
    alike = [one for one in found if one.threshold_stops < 0.1]  # exposed within 0.45 stop of each other
    assert len(alike) >= len(found) - 2
    assert all(one.seen for one in alike)
    stops = np.array([one.stops for one in found])
    assert np.median(stops) == pytest.approx(truth(0.5), abs=0.03)
    assert all(abs(one.stops - truth(0.5)) <= one.err_stops + 0.02 for one in found)


@pytest.mark.parametrize("weather", [{}, {"drift": 0.2}, {"water": True}, {"shift": 1.5}, {"apart": 1.2}])
def test_nothing_is_found_where_nothing_is_cut(weather):
    found = [measured(*pair(n, **weather)) for n in SOME]
    assert not any(one.seen for one in found)
    assert max(abs(one.stops) for one in found if not one.why) < 0.12


def test_clouds_that_moved_widen_the_error_instead_of_darkening_the_corners():
    still = [measured(*pair(n)) for n in SOME]
    windy = [one for n in SOME if not (one := measured(*pair(n, cloud=0.3))).why]
    assert len(windy) >= len(SOME) // 3
    assert not any(one.seen for one in windy)
    assert np.median([one.err_stops for one in windy]) > 1.2 * np.median([one.err_stops for one in still])


def test_light_that_slopes_across_the_picture_is_no_cut():
    bare, worn = (np.full((213, 320), 120.0) for _ in range(2))
    rows, columns = np.mgrid[0:213, 0:320]
    bare += np.random.default_rng(1).normal(0, 12, bare.shape)
    worn = bare * (1 + 0.3 * (columns / 320 - 0.5) - 0.2 * (rows / 213 - 0.5))
    assert not measured(bare.astype(np.uint8), worn.astype(np.uint8)).seen


def test_black_corners_count_as_at_least():
    bare, worn = pair(3)
    cut = worn.copy()
    cut[cut_pairs.radius(worn.shape) > 0.9] = 0
    one = measured(bare, cut)
    assert one.seen
    assert one.stops > 2


def test_the_four_corners_come_in_the_order_of_the_picture():
    bare, worn = pair(5)
    far = cut_pairs.radius(worn.shape) > 0.93
    for corner, (down, right) in enumerate(((0, 0), (0, 1), (1, 0), (1, 1))):
        dark = worn.astype(float)
        there = far & ((np.indices(worn.shape)[0] > worn.shape[0] / 2) == down)
        there &= (np.indices(worn.shape)[1] > worn.shape[1] / 2) == right
        dark[there] *= 0.6
        one = measured(bare, dark.astype(np.uint8))
        assert int(np.argmax(one.corners)) == corner
        assert not one.seen, "one corner alone may be anything that moved"


@pytest.mark.parametrize(("code", "word"), [(255, "white"), (0, "black")])
def test_corners_that_are_lost_in_the_bare_frame_are_refused(code, word):
    bare, worn = pair(4)
    lost = bare.copy()
    lost[cut_pairs.radius(bare.shape) > 0.95] = code
    assert word in measured(lost, worn).why


def test_what_cannot_be_compared_is_refused():
    bare, worn = pair(6)
    fine = compare(bare, worn)
    for stops, moved, why, word in (
        (1.5, 0.0, "", "1.5 stops apart"),
        (0.0, 0.4, "", "moved"),
        (np.nan, np.nan, "the camera moved", "the camera moved"),
    ):
        one = corner_loss(bare, worn, Pair(stops, 0.1, moved, fine.shift_px, fine.ratio, why))
        assert word in one.why
        assert not one.seen
    small = bare[::4, ::4]
    assert "too small" in corner_loss(small, small, compare(small, small)).why


def test_a_predicted_map_is_averaged_over_the_corners_that_are_measured():
    loss = np.zeros((41, 61))
    assert corner_mean(loss) == (0.0, (0.0,) * 4)
    loss[0, 0] = 10.0
    mean, corners = corner_mean(loss)
    assert corners[0] == pytest.approx(4 * mean)
    assert corners[0] > 1
    assert corners[1:] == (0.0,) * 3
    # The same rays, on a fine map and on the library's grid.
    passed = cut_pairs.cut(24, 5.6, 2.0, (410, 610))
    fine = -np.log2(np.maximum(passed, 2.0**-10))
    assert corner_mean(fine)[0] == pytest.approx(fine[cut_pairs.radius(fine.shape) > CORNER].mean(), rel=0.1)


def test_half_a_stop_is_found_over_real_photographs():
    if not cut_pairs.PHOTOGRAPHS.is_dir():
        pytest.skip("no photographs beside the project (../shared/photos)")
    codes = [codes for _, codes in cut_pairs.photographs("ground")][::3]
    cut = [measured(*through(one, n, loss=0.5)) for n, one in enumerate(codes)]
    null = [measured(*through(one, n)) for n, one in enumerate(codes)]
    told = [one for one in cut if not one.why]
    assert len(told) >= 0.7 * len(codes)
    assert np.mean([one.seen for one in told]) >= 0.9
    assert not any(one.seen for one in null)
