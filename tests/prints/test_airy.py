"""Pixel pitch and Airy disc of each frame."""

import pytest

from audit.prints.airy import add_airy

SENSOR = {"sensor_width_mm": 36.0, "sensor_height_mm": 24.0, "width_px": 6000, "height_px": 4000}


def only(table, **row):
    return add_airy(table([{**SENSOR, **row}])).iloc[0]


def test_six_micrometres_at_f_16(table):
    """2.44 x 16 x 0.55 um = 21.5 um."""
    row = only(table, f_number=16.0, f_number_exact=16.0)
    assert row["pixel_pitch_um"] == 6.0
    assert row["airy_pixels"] == pytest.approx(21.47 / 6, abs=0.01)


def test_a_picture_stored_upright_has_the_same_pixels(table):
    upright = {"sensor_width_mm": 24.0, "sensor_height_mm": 36.0, "width_px": 4000, "height_px": 6000}
    assert only(table, **upright)["pixel_pitch_um"] == 6.0


@pytest.mark.parametrize(
    "row",
    [
        {"sensor_other_pixels": True},
        {"width_px": None},
        {"sensor_width_mm": None},
    ],
)
def test_pixels_that_are_not_the_sensors_have_no_pitch(table, row):
    assert only(table, **row)[["pixel_pitch_um", "airy_pixels"]].isna().all()


def test_a_crop_mode_keeps_its_pixels(table):
    row = only(table, sensor_width_mm=24.0, width_px=4000, sensor_note="crop mode: a says b")
    assert row["pixel_pitch_um"] == 6.0
