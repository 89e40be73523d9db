from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.optics.field import (
    FULL_FRAME_DIAGONAL_MM,
    Distortion,
    angle_of_view_deg,
    crop_factor,
    diagonal_from_equivalent_mm,
    diagonal_mm,
    equivalent_error,
    field_map,
    half_diagonal_mm,
    largest_inside_mm,
    magnification,
    sides_from_diagonal_mm,
    turned_shift,
    upright,
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


@pytest.mark.parametrize(("sensor", "focal_mm", "angles"), ROWS)
def test_map_reaches_the_published_angles(
    sensor: tuple[float, float], focal_mm: float, angles: tuple[float, float, float]
) -> None:
    """Middle of the right edge, middle of the upper edge, upper right corner: half of each full angle."""
    tan_x, tan_y = field_map(*sensor, focal_mm)
    found = [np.hypot(tan_x[cell], tan_y[cell]) for cell in ((20, -1), (0, 30), (0, -1))]
    assert np.degrees(2 * np.arctan(found)) == pytest.approx(angles, abs=0.06)


def test_map_has_its_top_above_and_its_corners_in_cells() -> None:
    tan_x, tan_y = field_map(36, 24, 20, columns=7, rows=5)
    assert tan_x.shape == tan_y.shape == (5, 7)
    assert (tan_x[0, 0], tan_y[0, 0]) == pytest.approx((-0.9, 0.6))
    assert (tan_x[-1, -1], tan_y[-1, -1]) == pytest.approx((0.9, -0.6))
    assert (tan_x[2, 3], tan_y[2, 3]) == (0, 0)


def test_picture_stored_upright_is_its_landscape_twin_turned() -> None:
    barrel = Distortion.from_percent(-4, 21.63)
    wide = field_map(36, 24, 20, 61, 41, distortion=barrel)
    tall = field_map(24, 36, 20, 41, 61, distortion=barrel)
    assert np.hypot(*tall) == pytest.approx(np.rot90(np.hypot(*wide), -1))
    assert tall[0] == pytest.approx(np.rot90(wide[1], -1))  # up in the landscape picture is now right
    assert tall[1] == pytest.approx(-np.rot90(wide[0], -1))


@pytest.mark.parametrize("degrees", [0, 90, 180, 270])
def test_shift_turns_with_the_map(degrees: int) -> None:
    """The field of a shifted lens, turned, is the field of the turned shift on the turned sides."""
    sides, grid = ((36, 24), (9, 5)) if degrees % 180 == 0 else ((24, 36), (5, 9))
    turned = field_map(*sides, 24, *grid, shift_mm=turned_shift((3, 5), degrees))
    stored = field_map(36, 24, 24, 9, 5, shift_mm=(3, 5))
    assert np.hypot(*turned) == pytest.approx(np.rot90(np.hypot(*stored), -(degrees // 90)))


def test_raised_lens_sees_more_sky() -> None:
    _, tan_y = field_map(36, 24, 24, shift_mm=(0, 10))
    assert tan_y[0, 0] == pytest.approx(22 / 24)
    assert tan_y[-1, 0] == pytest.approx(-2 / 24)


def test_stored_orientations() -> None:
    """Tag 0x0112: 6 is shown turned by 90 degrees clockwise, 8 by 270, 3 by 180 (EXIF 2.32)."""
    assert [upright(o) for o in (1, 6, 3, 8, None, 0)] == [0, 90, 180, 270, 0, 0]
    assert turned_shift((0, 5), 90) == (5, 0)  # the top of a camera turned clockwise points right


def test_thin_lens() -> None:
    """Life size at twice the focal length; 1/f = 1/s + 1/v and m = v/s (any textbook of optics).

    Worked example, assignmentexpert.com question 264338: 39 cm lens, subject at 2.6 m, 0.176.
    """
    assert magnification(float("inf"), 50) == 0
    assert magnification(0.1, 50) == pytest.approx(1)
    assert magnification(2.6, 390) == pytest.approx(0.176, abs=5e-4)
    with pytest.raises(ValueError, match="nearer than twice"):
        magnification(0.03, 16)


@given(st.floats(8, 400), st.floats(1, 100))
def test_thin_lens_equation(focal_mm: float, distance_m: float) -> None:
    m = magnification(distance_m, focal_mm)
    assert 1 / focal_mm == pytest.approx(1 / (1000 * distance_m) + 1 / (1000 * distance_m * m))
    assert m * 1000 * distance_m == pytest.approx(focal_mm * (1 + m))


def test_near_focus_narrows_the_field() -> None:
    far, near = field_map(36, 24, 24), field_map(36, 24, 24, distance_m=0.5)
    assert near[0] == pytest.approx(far[0] / (1 + 24 / 476))
    barrel = Distortion.from_percent(-4, 21.63)
    bent = field_map(36, 24, 24, distance_m=0.5, distortion=barrel)
    assert np.hypot(bent[0][0, 0], bent[1][0, 0]) == pytest.approx(
        float(barrel.tangent(21.633307652783937 / (1 + 24 / 476), 24))
    )


def test_distortion_keeps_directions_and_the_centre() -> None:
    plain = field_map(36, 24, 16)
    bent = field_map(36, 24, 16, distortion=Distortion.from_percent(-6, 21.63))
    assert (bent[0][20, 30], bent[1][20, 30]) == (0, 0)
    assert np.arctan2(bent[1], bent[0]) == pytest.approx(np.arctan2(plain[1], plain[0]))
    assert np.hypot(bent[0][0, 0], bent[1][0, 0]) == pytest.approx(21.633 / 16 / 0.94, rel=1e-4)
