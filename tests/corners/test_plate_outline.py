"""Why the outline of a plate is no opening of the model: bore and rails cut the corner before it does."""

import itertools

import numpy as np
import pytest

from audit.demo.rays import Box, Bundle, Pane, Round, unobstructed
from audit.optics.corners import default_pupil

PITCH_MM, PLATE_MM, BASE_MM, SLOTS = 3.2, 2.0, 7.0, 3
RIGS = {100.0: (86.0, 90.0), 150.0: (130.0, 140.0)}
"""Holder's bore and clear width for square plates of a width."""


@pytest.mark.parametrize("plate_mm", RIGS)
@pytest.mark.parametrize("picture", [(36, 24), (24, 36), (30, 30)])
def test_the_outline_of_a_plate_never_makes_the_worst_corner_worse(plate_mm, picture):
    bore, clear = RIGS[plate_mm]
    for focal, depth, seat in itertools.product((12, 14, 16, 20), (20, 26, 32), (0.5, 4.0)):
        bundle = Bundle(**vars(default_pupil(focal, 11, depth)))
        tan_x, tan_y = np.meshgrid(*(np.linspace(-0.5, 0.5, 7) * side / focal for side in picture))
        back = seat + BASE_MM
        stack = [Round(bore / 2, back), Box(clear, 1000, back + SLOTS * PITCH_MM)]
        first = [back + (PITCH_MM - PLATE_MM) / 2 + slot * PITCH_MM for slot in range(SLOTS)]
        panes = [Pane(PLATE_MM, there) for there in first]
        outlines = [Box(plate_mm, plate_mm, there + PLATE_MM) for there in first]
        without = unobstructed(tan_x, tan_y, bundle, stack, panes, rays=256)
        with_them = unobstructed(tan_x, tan_y, bundle, stack + outlines, panes, rays=256)
        assert with_them.min() == without.min()
