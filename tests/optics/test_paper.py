"""Print sizes against the published table of ISO 216 and sums done by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.optics import paper
from audit.optics.paper import (
    A_SHEETS,
    CM_MATS,
    CM_SHEETS,
    INCH_MATS,
    INCH_SHEETS,
    iso_a,
    largest,
    largest_mat,
    place,
)

# Table of the A series as published with ISO 216 (mm).
ISO_216 = [(841, 1189), (594, 841), (420, 594), (297, 420), (210, 297), (148, 210), (105, 148), (74, 105)]
ISO_216 += [(52, 74), (37, 52), (26, 37)]
# Print sizes as published, inches and the whole mm beside them.
INCHES = {
    "4 × 6 in": (102, 152),
    "5 × 7 in": (127, 178),
    "8 × 10 in": (203, 254),
    "8 × 12 in": (203, 305),
    "11 × 14 in": (279, 356),
    "12 × 18 in": (305, 457),
    "16 × 20 in": (406, 508),
    "20 × 24 in": (508, 610),
    "20 × 30 in": (508, 762),
}


def test_a_series_is_the_published_table():
    assert [(iso_a(n).short_mm, iso_a(n).long_mm) for n in range(11)] == ISO_216
    assert [sheet.name for sheet in A_SHEETS] == ["A0", "A1", "A2", "A3", "A4", "A5", "A6"]


def test_photographic_sizes_are_the_published_ones():
    by_name = {sheet.name: (round(sheet.short_mm), round(sheet.long_mm)) for sheet in INCH_SHEETS}
    assert INCHES.items() <= by_name.items()
    for sheet in (*A_SHEETS, *CM_SHEETS, *INCH_SHEETS):
        assert 0 < sheet.short_mm <= sheet.long_mm
    assert len({s.name for s in CM_SHEETS}) == len(CM_SHEETS)


@pytest.mark.parametrize(("ppi", "cm"), [(300, (50.8, 33.87)), (240, (63.5, 42.33)), (180, (84.67, 56.44))])
def test_largest_print_of_24_megapixels(ppi, cm):
    width, height = paper.print_mm(6000, 4000, ppi)  # 6000 / 300 = 20 in = 50.8 cm
    assert (width / 10, height / 10) == pytest.approx(cm, abs=0.005)


def test_what_fits_at_300_ppi():
    # A3 is 420 mm long: 6000 px over 420 mm = 363 ppi; A2's 594 mm would leave 257.
    fits = largest(6000, 4000, 300, A_SHEETS)
    assert fits.sheet.name == "A3"
    assert fits.ppi == pytest.approx(6000 / (420 / 25.4))
    assert (fits.width_mm, fits.height_mm) == pytest.approx((420, 280))
    assert largest(6000, 4000, 240, A_SHEETS).sheet.name == "A2"
    # 30 x 45 cm and 40 x 50 cm: on the latter the picture is 50 cm long, 305 ppi.
    assert largest(6000, 4000, 300, CM_SHEETS).sheet.name == "40 × 50 cm"
    # 16 x 20 in: 20 in long, exactly 300 ppi.
    assert largest(6000, 4000, 300, INCH_SHEETS).sheet.name == "16 × 20 in"
    assert largest(6000, 4000, 301, INCH_SHEETS).sheet.name == "12 × 18 in"


def test_of_sheets_that_hold_it_equally_large_the_smallest():
    # A panorama of 3:1 is 24 in long on 16 x 24, 20 x 24 and (short side) no larger on either.
    assert largest(7200, 2400, 300, INCH_SHEETS).sheet.name == "16 × 24 in"


def test_too_few_pixels_fill_nothing():
    assert largest(400, 300, 300, A_SHEETS) is None
    assert largest_mat(400, 300, 300, CM_MATS) is None


def test_sheets_turn_with_the_picture():
    tall, wide = place(4000, 6000, iso_a(3)), place(6000, 4000, iso_a(3))
    assert (tall.width_mm, tall.height_mm, tall.ppi) == (wide.height_mm, wide.width_mm, wide.ppi)


def test_mat_covers_3_mm_on_each_side():
    mat = next(m for m in CM_MATS if m.print_size.name == "20 × 30 cm")
    assert mat.window_mm == (194, 294)
    assert mat.outer.name == "30 × 40 cm"
    assert paper.window_mm(508, 338.7) == pytest.approx((502, 332.7))
    assert paper.window_mm(5, 3) == (0, 0)
    for each in (*CM_MATS, *INCH_MATS):
        assert each.outer.short_mm > each.print_size.short_mm and each.outer.long_mm > each.print_size.long_mm


def test_picture_is_trimmed_to_the_shape_of_a_mat():
    square_ish = next(m for m in CM_MATS if m.print_size.name == "30 × 40 cm")
    shown = paper.behind(6000, 4000, square_ish)
    assert shown.kept == pytest.approx((4 / 3) / (3 / 2))  # 4:3 out of 3:2
    assert shown.ppi == pytest.approx(4000 / (300 / 25.4))
    # 3:2 under a mat of 3:2: 45 cm long is 339 ppi, 60 cm would be 254.
    best = largest_mat(6000, 4000, 300, CM_MATS)
    assert (best.mat.print_size.name, best.mat.outer.name) == ("30 × 45 cm", "40 × 60 cm")
    assert best.kept == pytest.approx(1)
    assert largest_mat(6000, 4000, 240, CM_MATS).mat.print_size.name == "40 × 60 cm"
    assert largest_mat(6000, 4000, 300, INCH_MATS).mat.print_size.name == "12 × 18 in"


def test_viewing_distance():
    # 300 ppi: 25.4 / 300 = 0.0847 mm; under 1/60 degree (0.000290888 rad) from 291 mm.
    assert paper.merging_mm(300) == pytest.approx(0.084667 / 0.000290888, rel=1e-4)
    assert paper.merging_mm(180) == pytest.approx(485.1, abs=0.1)
    assert paper.enough_ppi(paper.merging_mm(240)) == pytest.approx(240)
    assert paper.enough_ppi(25.4) == pytest.approx(3438, abs=1)  # the constant the trade divides by inches
    assert paper.overview_mm(300, 400) == 500
    assert paper.overview_mm(60, 40) == 250  # nobody looks from nearer


@given(
    width=st.integers(1, 60_000),
    height=st.integers(1, 60_000),
    ppi=st.sampled_from(paper.PPIS),
)
def test_nothing_larger_fits_and_nothing_is_lost(width, height, ppi):
    for sheets in (A_SHEETS, CM_SHEETS, INCH_SHEETS):
        best = largest(width, height, ppi, sheets)
        enough = [p for p in (place(width, height, s) for s in sheets) if p.ppi >= ppi]
        assert (best is None) == (not enough)
        if best:
            area = best.width_mm * best.height_mm
            assert area >= max(p.width_mm * p.height_mm for p in enough) - 1e-3
            assert max(best.width_mm, best.height_mm) <= best.sheet.long_mm * (1 + 1e-9)
            assert min(best.width_mm, best.height_mm) <= best.sheet.short_mm * (1 + 1e-9)
            assert best.width_mm / width == pytest.approx(best.height_mm / height)
