from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.optics.field import (
    FULL_FRAME_DIAGONAL_MM,
    angle_of_view_deg,
    crop_factor,
    diagonal_from_equivalent_mm,
    diagonal_mm,
    equivalent_error,
    half_diagonal_mm,
    largest_inside_mm,
    sides_from_diagonal_mm,
)

# Focal length [mm]: angle of view [deg] over width, height, diagonal; rounded to 0.1 deg.
# Source: photonstophotos.net, "Field of View Values for Common Focal Lengths" (2006).
FULL_FRAME = {
    12: (112.6, 90.0, 122.0),
    14: (104.3, 81.2, 114.2),
    17: (93.3, 70.4, 103.7),
    18: (90.0, 67.4, 100.5),
    20: (84.0, 61.9, 94.5),
    24: (73.7, 53.1, 84.1),
    28: (65.5, 46.4, 75.4),
    35: (54.4, 37.8, 63.4),
    50: (39.6, 27.0, 46.8),
    85: (23.9, 16.1, 28.6),
    135: (15.2, 10.2, 18.2),
}
# The same page's APS-C columns; they fit a sensor of 23.4 x 15.6 mm.
APS_C = {
    12: (88.5, 66.0, 99.0),
    18: (66.0, 46.9, 76.0),
    24: (52.0, 36.0, 60.7),
    35: (37.0, 25.1, 43.8),
}
TABLES = [((36.0, 24.0), FULL_FRAME), ((23.4, 15.6), APS_C)]
ROWS = [(sensor, f, angles) for sensor, table in TABLES for f, angles in table.items()]


@pytest.mark.parametrize(("sensor", "focal_mm", "angles"), ROWS)
def test_published_angles_of_view(
    sensor: tuple[float, float], focal_mm: float, angles: tuple[float, float, float]
) -> None:
    extents = [*sensor, float(diagonal_mm(*sensor))]
    assert [float(angle_of_view_deg(e, focal_mm)) for e in extents] == pytest.approx(angles, abs=0.06)


def test_full_frame_diagonal() -> None:
    """43.27 mm: source camerapedia "35 mm equivalent"; equal diagonal angle as CIPA DCG-001 says."""
    assert pytest.approx(43.267, abs=5e-4) == FULL_FRAME_DIAGONAL_MM
    assert half_diagonal_mm(36, 24) == pytest.approx(21.633, abs=5e-4)
    assert crop_factor(36, 24) == pytest.approx(1)
    assert crop_factor(23.4, 15.6) == pytest.approx(1.538, abs=5e-4)


def test_equivalent_focal_length_and_its_rounding() -> None:
    """A 24 mm equivalent of 16 mm is a crop of 1.5; half a millimetre at 14 mm is 3.6 %."""
    assert diagonal_from_equivalent_mm(16, 24) == pytest.approx(43.267 / 1.5, abs=1e-3)
    assert equivalent_error(14) == pytest.approx(0.0357, abs=5e-5)


@given(st.floats(1, 100), st.floats(1, 4))
def test_sides_have_the_diagonal_and_the_aspect(diagonal: float, aspect: float) -> None:
    long, short = sides_from_diagonal_mm(diagonal, aspect)
    assert diagonal_mm(long, short) == pytest.approx(diagonal)
    assert long / short == pytest.approx(aspect)


@given(st.floats(1, 3))
def test_largest_area_inside_touches_two_sides(aspect: float) -> None:
    long, short = largest_inside_mm(36.0, 24.0, aspect)
    assert long <= 36 + 1e-9 and short <= 24 + 1e-9
    assert long == pytest.approx(36) or short == pytest.approx(24)
    assert long / short == pytest.approx(aspect)


def test_arrays_broadcast() -> None:
    assert angle_of_view_deg(36, np.array([18.0, 36.0])).shape == (2,)
