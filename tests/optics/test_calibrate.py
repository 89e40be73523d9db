"""The fit of depth and drift: against the model itself, and against rays followed one by one."""

import importlib.util
import os
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from audit.optics.calibrate import CalibrationRefused, fit_pupil
from audit.optics.corners import Circle, Rectangle, default_pupil
from audit.optics.cut_model import onset_deg
from audit.optics.cuts import Cut, Part
from audit.optics.onset import field_angle_at_loss
from audit.optics.pupils import DEPTH, FIELD, GROWTH

HALF = 21.633
CORNER = ((0.832, 0.555),)
WIDE, NARROW = Part("ring", Circle(35, 4)), Part("front ring", Circle(45, 31))


def cut(name, focal, f_number, part, depth=25.0, *, level=1.0, extra_drift=0.0, off=0.0, err=0.1):
    """A cut as the model puts it, shifted by `off` degrees."""
    pupil = default_pupil(focal, f_number, depth, half_diagonal_mm=HALF)
    pupil = replace(pupil, drift_mm=pupil.drift_mm + extra_drift)
    angle = field_angle_at_loss(level, pupil, [part.opening], CORNER[0])
    return Cut(name, focal, f_number, level, angle + off, err, CORNER, (part,))


@pytest.mark.parametrize(
    ("depth", "ring"),
    [(-5.0, Circle(25, 31)), (12.0, WIDE.opening), (25.0, WIDE.opening), (60.0, WIDE.opening)],
)
def test_the_depth_of_the_model_itself_is_found(depth, ring):
    part = Part("ring", ring)
    fit = fit_pupil([cut("a", 20, 8, part, depth), cut("b", 20, 5.6, part, depth)], HALF)
    assert fit.depth_mm == pytest.approx(depth, abs=0.02)
    assert max(map(abs, fit.residuals_deg)) < 0.02


def test_drift_is_told_better_by_two_radii_far_apart():
    def frames(*parts):
        return [cut(f"{p.name} {n}", 16, n, p, extra_drift=1.5) for p in parts for n in (8, 11)]

    both = fit_pupil(frames(WIDE, NARROW), HALF)
    assert abs(both.drift_mm - (0.9 + 1.5)) < 0.6 < both.drift_err_mm
    assert abs(both.depth_mm - 25) < both.depth_err_mm
    one = fit_pupil(frames(WIDE), HALF)
    assert one.drift_err_mm > 1.5 * both.drift_err_mm and one.depth_err_mm > 1.5 * both.depth_err_mm
    # What one radius does tell is where the bundle crosses there, and that depth and drift hang together.
    square = np.tan(np.radians(one.predicted_deg[0])) ** 2
    assert one.depth_mm + one.drift_mm * square == pytest.approx(25 + 2.4 * square, abs=0.1)
    covariance = one.pupils[0].told.covariance
    assert covariance[0, 1] < -0.9 * np.sqrt(covariance[0, 0] * covariance[1, 1])


@pytest.mark.parametrize("growth", [1.4, 2.2])
def test_growth_is_told_by_the_width_of_the_edge(growth):
    def frame(part, level):
        pupil = replace(default_pupil(20, 8, 25, half_diagonal_mm=HALF), radial_growth=growth)
        angle = field_angle_at_loss(level, pupil, [part.opening], CORNER[0])
        return Cut(part.name, 20, 8, level, angle, 0.01, CORNER, (part,))

    fit = fit_pupil([frame(part, level) for part in (WIDE, NARROW) for level in (0.044, 1.0)], HALF)
    found = fit.pupils[0]
    assert found.value(GROWTH) == pytest.approx(growth, abs=0.25)
    assert abs(found.value(GROWTH) - growth) < found.err(GROWTH) < 1.0


def test_frames_wide_open_have_a_pupil_of_their_own_near_the_other():
    stopped = [cut("a", 20, 8, WIDE), cut("b", 20, 8, NARROW)]
    both = fit_pupil([*stopped, cut("c", 20, 2.8, WIDE, 25.5), cut("d", 20, 2.8, NARROW, 25.5)], HALF)
    assert [one.wide_open for one in both.pupils] == [False, True]
    assert both.pupils[1].value(DEPTH) > both.pupils[0].value(DEPTH)
    assert both.pupils[1].err(DEPTH) > both.pupils[0].err(DEPTH)


def test_a_zoom_has_one_pupil_for_each_focal_length_far_apart():
    frames = [cut("a", 16, 8, WIDE, 24), cut("b", 16.4, 8, WIDE, 24), cut("c", 24, 8, NARROW, 29)]
    fit = fit_pupil(frames, HALF)
    assert [one.focal_length_mm for one in fit.pupils] == pytest.approx([16.2, 24])
    assert [one.value(DEPTH) for one in fit.pupils] == pytest.approx([24, 29], abs=0.3)


def test_what_is_not_known_of_the_field_widens_the_depth_and_hangs_together_with_it():
    frame = cut("a", 20, 8, WIDE)
    sure, unsure = (fit_pupil([replace(frame, field_err=err)], HALF) for err in (0.0, 0.03))
    assert unsure.depth_err_mm > sure.depth_err_mm
    # Tangents taken 3 % too large stand for a depth and distance 3 % too small.
    covariance = unsure.pupils[0].told.covariance
    assert covariance[FIELD, FIELD] == pytest.approx(1.0, abs=0.02)
    assert covariance[DEPTH, FIELD] > 0.5


def test_the_error_holds_the_bore_once_however_many_frames():
    few = fit_pupil([cut("a", 20, 8, WIDE, err=0.02)], HALF)
    many = fit_pupil([cut(str(n), 20, 8, WIDE, err=0.02) for n in range(12)], HALF)
    assert many.depth_err_mm > 0.9 * few.depth_err_mm
    worse = fit_pupil([cut("a", 20, 8, Part("ring", Circle(35, 4), 3.0), err=0.02)], HALF)
    # 1 mm of diameter is 0.5 / tan mm of depth.
    added = np.sqrt(worse.depth_err_mm**2 - few.depth_err_mm**2)
    own = 0.5 / np.tan(np.radians(few.predicted_deg[0])) * np.sqrt(3.0**2 - 0.3**2)
    assert added == pytest.approx(1.96 * own, rel=0.1)


def test_a_wrong_bore_moves_the_depth_as_the_closed_form_says():
    # tan = R / (depth + distance) at half light: 1 mm of diameter is 0.5 / tan mm of depth.
    frame = cut("a", 20, 8, WIDE)
    moved = replace(frame, parts=(replace(WIDE, opening=Circle(35.5, 4)),))
    shift = fit_pupil([moved], HALF).depth_mm - fit_pupil([frame], HALF).depth_mm
    assert shift == pytest.approx(0.5 / np.tan(np.radians(frame.angle_deg)), rel=0.1)


def test_rails_and_parts_out_of_centre_are_fitted_too():
    part = Part("rails", Rectangle(70, 1000, 20, 15))
    aside = Part("hood", Circle(40, 25, 1.5, -0.5))
    corners = ((0.832, 0.555), (-0.832, -0.555))
    for piece in (part, aside):
        pupil = default_pupil(18, 8, 26, half_diagonal_mm=HALF)
        angle = np.mean([field_angle_at_loss(1.0, pupil, [piece.opening], c) for c in corners])
        frame = Cut("a", 18, 8, 1.0, float(angle), 0.1, corners, (piece,))
        assert fit_pupil([frame], HALF).depth_mm == pytest.approx(26, abs=0.05)


def test_what_cannot_be_fitted_is_refused():
    with pytest.raises(CalibrationRefused, match="no cut in any frame"):
        fit_pupil([], HALF)
    with pytest.raises(CalibrationRefused, match="no depth between"):
        fit_pupil([replace(cut("a", 20, 8, WIDE), angle_deg=12.0)], HALF)
    with pytest.raises(CalibrationRefused, match="contradict each other"):
        fit_pupil([cut("a", 20, 8, WIDE, err=0.05), cut("b", 20, 8, NARROW, off=5.0, err=0.05)], HALF)


def test_a_frame_without_a_cut_bounds_the_depth():
    seen = cut("a", 20, 8, WIDE)
    usual = default_pupil(20, 8, 25.0, half_diagonal_mm=HALF)
    numbers = np.array([25.0, usual.drift_mm, usual.radial_growth])
    assert onset_deg(seen, numbers, HALF) == pytest.approx(seen.angle_deg, abs=0.01)
    assert onset_deg(seen, numbers + np.array([10.0, 0.0, 0.0]), HALF) < seen.angle_deg


@pytest.fixture(scope="module")
def simulator():
    path = Path(__file__).parents[2] / "benchmarks" / "calibration.py"
    spec = importlib.util.spec_from_file_location("calibration_benchmark", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


COUNT, NEAR, HELD, BIAS_MM = (40, 0.75, 0.9, 0.6) if "CORNERSTOP_FUZZ" in os.environ else (10, 0.6, 0.8, 1.0)
"""Bounds are those of `make bench`, widened by what so few draws scatter. Its lenses differ less than traced
ones do, for which the fit leaves room: the depth is less near than it could be, and its error true."""


def test_simulated_calibrations(simulator):
    """Ten, and forty in `make fuzz`."""
    found = simulator.summary([simulator.simulate(seed) for seed in range(COUNT)])
    assert found["calibrated"] >= 0.9
    assert found["within_1.5_mm"] >= NEAR
    assert found["held"] >= HELD
    assert abs(found["bias_mm"]) < BIAS_MM
