"""A camera's own tone curve from its brackets, and how well it measures other scenes."""

import brackets
import foreign
import numpy as np
import pytest

from audit.pixels.curves import camera_curve
from audit.pixels.pair import compare


@pytest.mark.parametrize(("number", "name"), list(enumerate(foreign.CURVES)))
def test_a_curve_of_one_camera_measures_other_scenes(number, name):
    """A reduced sample of benchmarks/pairs.py."""
    made = [brackets.bracket(name, 700 + 10 * number + n, step=step) for n, step in enumerate((2 / 3, 4 / 3))]
    curve = camera_curve(made)
    assert curve is not None and curve.own and curve.samples > 10_000 and curve.residual_stops < 0.04
    frames = brackets.bracket(name, 750 + number, step=1.0)
    for bright, dark, step in brackets.pairs(frames):
        pair = compare(bright, dark, curve)
        assert not pair.why and pair.stops == pytest.approx(step, abs=0.05)
        assert abs(pair.stops - step) <= pair.err_stops


def test_exposures_that_scatter_widen_the_range():
    curves = []
    for scatter in (0.0, 0.06):
        made = [brackets.bracket("crisp", 800 + n, step=1.0, scatter_stops=scatter) for n in range(2)]
        curves.append(camera_curve(made))
    exact, loose = curves
    assert loose.residual_stops > 0.03 > exact.residual_stops
    frames = brackets.shots("crisp", 811, [0, 0.8])
    errs = [compare(frames[0][0], frames[1][0], curve).err_stops for curve in curves]
    assert errs[1] > errs[0]


def test_one_bracket_alone_is_trusted_less():
    made = [brackets.bracket("even", 820 + n, step=1.0, scatter_stops=0.03) for n in range(2)]
    alone, all_of_them = camera_curve(made[:1]), camera_curve(made)
    assert alone.own and alone.residual_stops > 0 and all_of_them.samples > 1.3 * alone.samples


def test_no_curve_without_brackets_that_tell_one():
    wide = brackets.bracket("even", 830, step=1.0)
    assert camera_curve([]) is None
    assert camera_curve([wide[:2]]) is None
    assert camera_curve([[(grey, 0.1 * n) for n, (grey, _) in enumerate(wide[:3])]]) is None
    assert camera_curve([[(np.zeros_like(grey), ev) for grey, ev in wide]]) is None


def test_a_bracket_that_is_none_gives_no_curve():
    # Frames of one exposure, said to be two stops apart: no rising curve makes that true.
    same = brackets.shots("even", 840, [0, 0, 0])
    assert camera_curve([[(grey, 2.0 * n) for n, (grey, _) in enumerate(same)]]) is None


def test_a_hand_held_bracket_is_laid_over_its_middle():
    frames = brackets.bracket("slide", 850, step=1.0)
    shaken = [(np.roll(grey, (n - 2, 3 - n), axis=(0, 1)), ev) for n, (grey, ev) in enumerate(frames)]
    still, moved = camera_curve([frames]), camera_curve([shaken])
    assert moved is not None
    assert moved.residual_stops < still.residual_stops + 0.02
