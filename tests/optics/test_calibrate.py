"""The fit of depth and drift: against the model itself, and against rays followed one by one."""

import importlib.util
import os
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from audit.optics.calibrate import CalibrationRefused, Cut, Part, fit_depth, onset_deg
from audit.optics.corners import Circle, Rectangle, default_pupil
from audit.optics.onset import field_angle_at_loss

HALF = 21.633
CORNER = ((0.832, 0.555),)
WIDE, NARROW = Part("ring", Circle(35, 4)), Part("front ring", Circle(45, 31))


def cut(name, focal, f_number, part, depth=25.0, *, level=1.0, extra_drift=0.0, off=0.0, err=0.1):
    """A cut as the model puts it, shifted by `off` degrees."""
    pupil = default_pupil(focal, f_number, depth, half_diagonal_mm=HALF)
    pupil = replace(pupil, drift_mm=pupil.drift_mm + extra_drift)
    angle = field_angle_at_loss(level, pupil, [part.opening], CORNER[0])
    return Cut(name, focal, f_number, level, angle + off, err, CORNER, (part,))


@pytest.mark.parametrize("depth", [-5.0, 12.0, 25.0, 60.0])
def test_the_depth_of_the_model_itself_is_found(depth):
    fit = fit_depth([cut("a", 20, 8, WIDE, depth), cut("b", 20, 5.6, WIDE, depth)], HALF)
    assert fit.depth_mm == pytest.approx(depth, abs=0.02)
    assert max(map(abs, fit.residuals_deg)) < 0.02


def test_drift_is_told_by_two_radii_far_apart_only():
    def frames(*parts):
        return [cut(f"{p.name} {n}", 16, n, p, extra_drift=1.5) for p in parts for n in (8, 11)]

    both = fit_depth(frames(WIDE, NARROW), HALF)
    assert both.drift_mm == pytest.approx(0.9 + 1.5, abs=1.0)
    assert abs(both.drift_mm - 2.4) < both.drift_err_mm
    assert abs(both.depth_mm - 25) < both.depth_err_mm
    one = fit_depth(frames(WIDE), HALF)
    assert one.drift_mm is None
    assert one.depth_mm == pytest.approx(25 + 1.5 * np.tan(np.radians(one.predicted_deg[0])) ** 2, abs=0.1)
    assert one.depth_err_mm > one.depths[0][2]
    assert fit_depth(frames(WIDE, NARROW), HALF, drift=False).drift_mm is None


def test_a_zoom_has_one_depth_for_each_focal_length_far_apart():
    frames = [cut("a", 16, 8, WIDE, 24), cut("b", 16.4, 8, WIDE, 24), cut("c", 24, 8, NARROW, 29)]
    fit = fit_depth(frames, HALF, drift=False)
    assert [d[0] for d in fit.depths] == pytest.approx([16.2, 24])
    assert [d[1] for d in fit.depths] == pytest.approx([24, 29], abs=0.05)


def test_the_error_holds_the_bore_once_however_many_frames():
    few = fit_depth([cut("a", 20, 8, WIDE, err=0.02)], HALF)
    many = fit_depth([cut(str(n), 20, 8, WIDE, err=0.02) for n in range(12)], HALF)
    assert many.depths[0][2] > 0.9 * few.depths[0][2]
    worse = [replace(c, parts=(replace(WIDE, bore_err_mm=3.0),)) for c in (cut("a", 20, 8, WIDE),)]
    assert fit_depth(worse, HALF).depths[0][2] > 1.7 * few.depths[0][2]


def test_a_wrong_bore_moves_the_depth_as_the_closed_form_says():
    # tan = R / (depth + distance) at half light: 1 mm of diameter is 0.5 / tan mm of depth.
    frame = cut("a", 20, 8, WIDE)
    moved = replace(frame, parts=(replace(WIDE, opening=Circle(35.5, 4)),))
    shift = fit_depth([moved], HALF).depth_mm - fit_depth([frame], HALF).depth_mm
    assert shift == pytest.approx(0.5 / np.tan(np.radians(frame.angle_deg)), rel=0.1)


def test_rails_and_parts_out_of_centre_are_fitted_too():
    part = Part("rails", Rectangle(70, 1000, 20, 15))
    aside = Part("hood", Circle(40, 25, 1.5, -0.5))
    corners = ((0.832, 0.555), (-0.832, -0.555))
    for piece in (part, aside):
        pupil = default_pupil(18, 8, 26, half_diagonal_mm=HALF)
        angle = np.mean([field_angle_at_loss(1.0, pupil, [piece.opening], c) for c in corners])
        frame = Cut("a", 18, 8, 1.0, float(angle), 0.1, corners, (piece,))
        assert fit_depth([frame], HALF).depth_mm == pytest.approx(26, abs=0.05)


def test_what_cannot_be_fitted_is_refused():
    with pytest.raises(CalibrationRefused, match="no cut in any frame"):
        fit_depth([], HALF)
    with pytest.raises(CalibrationRefused, match="no depth between"):
        fit_depth([replace(cut("a", 20, 8, WIDE), angle_deg=12.0)], HALF)
    with pytest.raises(CalibrationRefused, match="contradict each other"):
        fit_depth([cut("a", 20, 8, WIDE, err=0.05), cut("b", 20, 8, NARROW, off=5.0, err=0.05)], HALF)


def test_a_frame_without_a_cut_bounds_the_depth():
    seen = cut("a", 20, 8, WIDE)
    assert onset_deg(seen, 25.0, None, HALF) == pytest.approx(seen.angle_deg, abs=0.01)
    assert onset_deg(seen, 35.0, None, HALF) < seen.angle_deg


@pytest.fixture(scope="module")
def simulator():
    path = Path(__file__).parents[2] / "benchmarks" / "calibration.py"
    spec = importlib.util.spec_from_file_location("calibration_benchmark", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


COUNT, LEAST, BIAS_MM = (40, 0.85, 0.5) if "CORNERSTOP_FUZZ" in os.environ else (10, 0.7, 1.0)
"""Bounds are those of `make bench` (200 draws: 0.90), widened by what so few draws scatter."""


def test_simulated_calibrations(simulator):
    """Ten, and forty in `make fuzz`."""
    found = simulator.summary([simulator.simulate(seed) for seed in range(COUNT)])
    assert found["calibrated"] >= 0.9
    assert found["within_1.5_mm"] >= LEAST
    assert found["held"] >= LEAST
    assert abs(found["bias_mm"]) < BIAS_MM
