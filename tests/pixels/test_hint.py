"""A single picture only hints at dark corners."""

import cut_pairs
import foreign
import numpy as np
import pytest
from cut_pairs import smooth_cut, smooth_loss

from audit.demo.scene import LOOKS, paint
from audit.pixels.cells import THRESHOLD_STOPS, corner_darkness, corner_hint


def painted(number, loss):
    light = paint(list(LOOKS)[number % 5], 80 + number, 320, 214, 12.0, 0.0) * 0.17
    light = light * smooth_loss(light.shape, loss)[..., None]
    return foreign.grey(foreign.photograph(light, list(foreign.CURVES)[number % 6], seed=number))


def test_two_stops_are_hinted_at_and_nothing_without_a_cut():
    assert not any(corner_hint(painted(n, 0.0)) for n in range(20))
    assert sum(bool(corner_hint(painted(n, 2.0))) for n in range(20)) >= 17


def test_the_hint_says_that_it_is_one():
    assert corner_hint(painted(1, 4.0)).count("perhaps") == 2


def test_two_dark_corners_and_extremes_are_no_hint():
    grey = np.full((214, 320), 120, np.uint8)
    grey[:20, :30] = grey[:20, -30:] = 10
    assert corner_hint(grey) == ""
    assert corner_hint(np.zeros((60, 90), np.uint8)) == corner_hint(np.full((60, 90), 255, np.uint8)) == ""


def test_at_most_one_in_a_hundred_photographs_is_hinted_at():
    if not cut_pairs.PHOTOGRAPHS.is_dir():
        pytest.skip("no photographs beside the project (../shared/photos)")
    codes = [codes for _, codes in cut_pairs.photographs("ground")]
    dark = [corner_darkness(smooth_cut(one, n, 0.0)) for n, one in enumerate(codes)]
    assert len(dark) >= 40
    assert max(dark) < THRESHOLD_STOPS
