"""Airy discs against handbook values."""

import pytest

from audit.optics.diffraction import airy_diameter_um, pixel_pitch_um

# 2.44 lambda N at 550 nm, worked out by hand; the formula as an imaging handbook prints it (Imaging Resource
# Guide, section 2.4, "The Airy Disk and Diffraction Limit").
AIRY_UM = [(4, 5.4), (5.6, 7.5), (8, 10.7), (11, 14.8), (16, 21.5), (22, 29.5)]


@pytest.mark.parametrize(("f_number", "um"), AIRY_UM)
def test_airy_disc_at_550_nm(f_number, um):
    assert airy_diameter_um(f_number) == pytest.approx(um, abs=0.051)


def test_airy_disc_in_other_light():
    """f/8 at 520 nm: 10.15 micrometres (table 1 of the same section; the number from memory)."""
    assert airy_diameter_um(8.0, 0.52) == pytest.approx(10.15, abs=0.01)


def test_disc_against_pixels():
    """36 mm on 6000 pixels is 6 micrometres a pixel; the disc of f/16 spans three and a half of them."""
    assert pixel_pitch_um(36.0, 6000) == pytest.approx(6.0)
    assert airy_diameter_um(16.0) / pixel_pitch_um(36.0, 6000) == pytest.approx(21.5 / 6.0, abs=0.01)
