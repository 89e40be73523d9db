"""Colour formulae against published values and a reference library (colour-science)."""

import warnings

import numpy as np
import pytest

from audit.optics.colour import (
    daylight_xy,
    grey_shift,
    mired,
    srgb_decoded,
    uv_of_srgb,
    uv_of_xy,
)


@pytest.fixture(scope="module")
def library():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return pytest.importorskip("colour")


def test_srgb_values_of_the_standard(library):
    """IEC 61966-2-1: slope 12.92 up to 0.0031308 (0.04045 encoded), then power 2.4; the library agrees."""
    assert srgb_decoded([0.0, 0.04045, 1.0]) == pytest.approx([0, 0.0031308, 1], abs=1e-6)
    codes = np.linspace(0, 1, 1001)
    assert srgb_decoded(codes) == pytest.approx(library.models.eotf_sRGB(codes), abs=1e-9)


@pytest.mark.parametrize(
    ("name", "x", "y", "u", "v"),
    # x, y: CIE 15, illuminants for the 2 degree observer; u'v' as commonly published with them.
    [("D65", 0.31271, 0.32902, 0.1978, 0.4683), ("D50", 0.34567, 0.35850, 0.2092, 0.4881)],
)
def test_uv_of_white(library, name, x, y, u, v):
    assert uv_of_xy(x, y) == pytest.approx([u, v], abs=1e-4)
    assert uv_of_xy(x, y) == pytest.approx(library.xy_to_Luv_uv([x, y]), abs=1e-9)
    given = library.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][name]
    assert given == pytest.approx([x, y], abs=2e-4)


def test_uv_of_srgb_colours(library):
    assert uv_of_srgb([1, 1, 1]) == pytest.approx([0.1978, 0.4683], abs=1e-4)
    linear = np.random.default_rng(1).uniform(0.02, 1, (50, 3))
    xyz = library.RGB_to_XYZ(linear, "sRGB", apply_cctf_decoding=False)
    expected = library.xy_to_Luv_uv(library.XYZ_to_xy(xyz))
    assert uv_of_srgb(linear) == pytest.approx(expected, abs=1e-4)


def test_the_daylight_locus(library):
    # CIE 15: D50, D55, D65 and D75 have correlated temperatures of 5003, 5503, 6504 and 7504 K.
    published = [
        (5003, 0.3457, 0.3585),
        (5503, 0.3324, 0.3474),
        (6504, 0.3127, 0.3290),
        (7504, 0.2990, 0.3149),
    ]
    for kelvin, x, y in published:
        assert daylight_xy(kelvin) == pytest.approx([x, y], abs=2e-4)
    kelvin = np.array([4000.0, 5200.0, 6999.0, 7001.0, 12000.0, 25000.0])
    assert daylight_xy(kelvin) == pytest.approx(library.temperature.CCT_to_xy_CIE_D(kelvin), abs=1e-6)


def test_mired():
    # As in any table of conversion filters: 5500 K is 182 mired, 3200 K is 312.5, between them 131.
    assert mired([5500, 3200, 10_000]) == pytest.approx([181.8, 312.5, 100], abs=0.05)
    assert mired(3200) - mired(5500) == pytest.approx(131, abs=0.5)
    assert mired(mired(4321)) == pytest.approx(4321)


@pytest.mark.parametrize("shift", [-40.0, -15.0, 15.0, 30.0, 60.0])
def test_a_grey_shifted_along_the_locus(library, shift):
    here, there = (
        library.XYZ_to_sRGB(library.xy_to_XYZ(daylight_xy(mired(m))), apply_cctf_encoding=False)
        for m in (153.75, 153.75 + shift)
    )
    found = grey_shift(there / here)
    assert found.mired == pytest.approx(shift, abs=0.8)
    assert found.along * shift > 0 and abs(found.across) < 0.1 * found.uv


def test_a_grey_shifted_across_the_locus():
    assert grey_shift([1, 1, 1]).uv < 1e-4
    assert grey_shift([1, 1.1, 1]).across > 0.004
    assert grey_shift([1, 0.9, 1]).across < -0.004
    assert grey_shift([0.5, 0.5, 0.5]).uv < 1e-4
