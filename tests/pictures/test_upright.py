"""A cut shows the corner it says, as the picture is held, whatever its orientation."""

from __future__ import annotations

import io
from itertools import pairwise

import pytest
from marked import HELD, colour_at, held, stored
from PIL import Image

from audit.pictures import upright


@pytest.mark.parametrize("orientation", range(1, 9))
def test_each_corner_is_the_one_it_says(orientation: int) -> None:
    cuts = upright.corners(stored(held(), orientation), orientation, 100)
    assert [colour_at(cut.jpeg, 0.5, 0.5) for cut in cuts] == list(HELD)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_outermost_pixels_lie_outermost(orientation: int) -> None:
    """Cuts larger than the marks: only the corner itself is coloured."""
    cuts = upright.corners(stored(held(mark=60), orientation), orientation, 200)
    for n, cut in enumerate(cuts):
        assert colour_at(cut.jpeg, n % 2, n // 2) == HELD[n]
        assert colour_at(cut.jpeg, 1 - n % 2, 1 - n // 2) == ""


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_the_larger_view_is_upright_and_no_larger_than_asked(orientation: int) -> None:
    made = upright.larger(stored(held(), orientation), orientation, 450)
    assert (made.width_px, made.height_px) == (450, 300)
    places = [(x, y) for y in (0.05, 0.95) for x in (0.05, 0.95)]
    assert [colour_at(made.jpeg, *place) for place in places] == list(HELD)


def test_cuts_are_pixel_for_pixel() -> None:
    """Lines one pixel wide stay one pixel wide."""
    lines = Image.frombytes("L", (600, 600), bytes([0, 255] * 300) * 600)
    middle = upright.middle(lines, 1, 64)
    assert middle is not None
    for cut in (*upright.corners(lines, 1, 64), middle):
        row = Image.open(io.BytesIO(cut.jpeg)).convert("L").crop((0, 30, 64, 31)).tobytes()
        assert all(abs(a - b) > 200 for a, b in pairwise(row))


def test_the_middle_is_the_middle() -> None:
    made = upright.middle(stored(held(), 6), 6, 60)
    assert made is not None
    assert min(Image.open(io.BytesIO(made.jpeg)).convert("L").tobytes()) > 230


def test_small_pictures_give_small_cuts_and_tiny_ones_none() -> None:
    cuts = upright.corners(Image.new("RGB", (100, 80)), 1)
    assert [(cut.width_px, cut.height_px) for cut in cuts] == [(40, 40)] * 4
    assert upright.corners(Image.new("RGB", (30, 20)), 1) == ()
    assert upright.middle(Image.new("RGB", (10, 10)), 1) is None


def test_a_heavy_picture_is_made_lighter() -> None:
    noise = Image.effect_noise((1600, 1080), 120).convert("RGB")
    plain = upright.encoded(noise.resize((1080, 729)), upright.QUALITIES[0])
    assert len(upright.larger(noise, 1).jpeg) < len(plain.jpeg)


def test_nothing_but_pixels_is_written() -> None:
    data = io.BytesIO()
    held().save(data, "JPEG", exif=b"Exif\0\0secret", icc_profile=b"secret", comment=b"secret")
    again = Image.open(data)
    middle = upright.middle(again, 1)
    assert middle is not None
    for made in (upright.larger(again, 1), *upright.corners(again, 1), middle):
        assert b"secret" not in made.jpeg
