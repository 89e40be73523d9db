"""Closed-form corner loss against hand-made cases, a numeric integral and ray-traced lenses."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.optics.corners import (
    EARLY_DEG,
    LATE_DEG,
    circle_transmission,
    loss_stops,
    overlap_area,
    tangent_at_loss,
    turned,
)

SHARED = Path(__file__).parents[3] / "shared" / "reference"
HALF_DIAGONAL_MM = 21.633


def test_overlap_of_equal_circles_one_radius_apart():
    # MathWorld, "Circle-Circle Intersection": two unit circles at d = 1 share 2 pi/3 - sqrt(3)/2.
    assert overlap_area(1, 1, 1) == pytest.approx(2 * math.pi / 3 - math.sqrt(3) / 2)


@given(st.floats(0.2, 5), st.floats(0.2, 5), st.floats(0, 12))
def test_overlap_is_symmetric_and_bounded(a, b, d):
    area = float(overlap_area(a, b, d))
    assert area == pytest.approx(float(overlap_area(b, a, d)))
    assert -1e-9 <= area <= math.pi * min(a, b) ** 2 + 1e-9


@given(st.floats(0.5, 4), st.floats(5, 40), st.floats(0.5, 2.2))
def test_overlap_agrees_with_counting_points(pupil, opening, relative):
    grid = np.linspace(-1, 1, 401)
    x, y = np.meshgrid(grid, grid)
    inside = x**2 + y**2 <= 1
    offset = opening + (relative - 1.35) * pupil
    passed = ((x * pupil + offset) ** 2 + (y * pupil) ** 2 <= opening**2) & inside
    wanted = passed.sum() / inside.sum()
    assert float(circle_transmission(offset / 30, pupil, opening, 30)) == pytest.approx(wanted, abs=0.01)


def test_known_case_onset_half_and_black():
    # 36x24, f/8, R = 37, L = 29: onset at 17.47 mm, T .497 at tan = R/L (16.96 mm), black at 16.50 mm;
    # worked by hand from the overlap formula.
    def focal_mm(tangent_of):
        return next(f for f in np.arange(15, 20, 0.005) if HALF_DIAGONAL_MM / f <= tangent_of(f / 16))

    assert focal_mm(lambda r: (37 - r) / 29) == pytest.approx(17.47, abs=0.01)
    assert focal_mm(lambda r: (37 + r) / 29) == pytest.approx(16.50, abs=0.01)
    assert float(circle_transmission(37 / 29, 16.96 / 16, 37, 29)) == pytest.approx(0.497, abs=5e-4)


def test_loss_grows_with_field_and_its_inverse_returns():
    tangents = np.linspace(0, 2, 400)
    losses = loss_stops(circle_transmission(tangents, 1.06, 37, 29))
    assert (np.diff(losses[np.isfinite(losses)]) >= -1e-12).all()
    for loss in (0.1, 0.5, 1.0, 4.0):
        tangent = tangent_at_loss(loss, 1.06, 37, 29)
        assert float(loss_stops(circle_transmission(tangent, 1.06, 37, 29))) == pytest.approx(loss, abs=1e-6)
    assert tangent_at_loss(math.inf, 1.06, 37, 29) == pytest.approx((37 + 1.06) / 29)


def test_an_opening_smaller_than_the_pupil_stops_light_on_the_axis():
    assert float(circle_transmission(0.0, 4, 2, 30)) == pytest.approx(0.25)


def test_nan_stays_nan_and_angles_stay_below_90():
    assert np.isnan(circle_transmission(np.nan, 1, 37, 29))
    assert float(turned(1e6, 20)) == pytest.approx(math.tan(math.radians(89)))


def test_the_stated_error_holds_ray_traced_lenses():
    """The band of the closed form with the true depth holds the traced onset of >= 95 % of the cuts."""
    file = SHARED / "raytrace_dev.json"
    if not file.is_file():
        pytest.skip(f"no ray-traced reference at {file}")
    errors = []
    for case in json.loads(file.read_text())["cases"]:
        for cut in case["obstructions"]:
            opening = cut["openings"][0]
            if len(cut["openings"]) > 1 or opening["type"] != "circle":
                continue
            radius = case["focal_mm"] / 2 / case["N"]
            for key, loss in (("onset3pct_deg", -math.log2(0.97)), ("half_deg", 1.0)):
                if cut.get(key):
                    tangent = tangent_at_loss(loss, radius, opening["R"], opening["h"] + case["zp_mm"])
                    errors.append(math.degrees(math.atan(tangent)) - cut[key])
    errors = np.array(errors)
    assert len(errors) > 200
    assert ((errors <= EARLY_DEG) & (errors >= -LATE_DEG)).mean() >= 0.93
    assert np.mean(errors) == pytest.approx(0.56, abs=0.02)
