"""The clean crop against every crop there is, and where it lies in the picture as shown."""

from itertools import product
from math import ceil, floor, inf, nan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from audit.optics.crop import SHAPES, Crop, clean_crop, oriented

SHAPE_NAMES = ["same", *SHAPES, "free"]


def corners_cut(rows, columns, reach):
    """A map whose corners lose a stop further from the middle than `reach` half diagonals."""
    y, x = np.meshgrid(np.linspace(-1, 1, rows), np.linspace(-1, 1, columns), indexing="ij")
    return np.where(np.hypot(x, y) / np.sqrt(2) > reach, 1.0, 0.0)


def every_crop(losses, width, height, shape, most, centred):
    """(area, distance from the middle) of the best crop by trying all boxes of clean cells in turn."""
    rows, columns = losses.shape
    long, short = (width, height) if shape == "same" else SHAPES.get(shape, (0, 0))
    if shape in SHAPES and width < height:
        long, short = short, long
    best = (0, 0)
    for top, bottom in product(range(rows), repeat=2):
        for left, right in product(range(columns), repeat=2):
            if top >= bottom or left >= right:
                continue
            if not (losses[top : bottom + 1, left : right + 1] <= most).all():
                continue
            x0, x1 = ceil(left * width / (columns - 1) - 1e-9), floor(right * width / (columns - 1) + 1e-9)
            y0, y1 = ceil(top * height / (rows - 1) - 1e-9), floor(bottom * height / (rows - 1) + 1e-9)
            if centred:
                x0, y0 = max(x0, width - x1), max(y0, height - y1)
                x1, y1 = width - x0, height - y0
            wide, high = max(x1 - x0, 0), max(y1 - y0, 0)
            if shape != "free":
                wide = min(wide, high * long // short)
                high = wide * short // long
            if wide * high:
                away = _away(x0, x1 - wide, wide, width) ** 2 + _away(y0, y1 - high, high, height) ** 2
                best = max(best, (wide * high, -away))
    return best


def _away(first, last, size, whole):
    return min(abs(2 * at + size - whole) for at in range(first, last + 1))


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_is_the_largest_of_all_crops(data):
    rows, columns = data.draw(st.integers(2, 6)), data.draw(st.integers(2, 6))
    lost = st.sampled_from([0.0, 0.5, 0.6, 3.0, inf, nan])
    mostly_clean = st.one_of(st.just(0.0), st.just(0.0), lost)
    cells = data.draw(st.lists(mostly_clean, min_size=rows * columns, max_size=rows * columns))
    losses = np.array(cells).reshape(rows, columns)
    width, height = data.draw(st.integers(3, 30)), data.draw(st.integers(3, 30))
    shape, centred = data.draw(st.sampled_from(SHAPE_NAMES)), data.draw(st.booleans())
    crop = clean_crop(losses, width, height, shape, centred=centred)
    area, away = every_crop(losses, width, height, shape, 0.5, centred)
    if crop is None:
        assert area == 0
        return
    assert crop.width_px * crop.height_px == area
    assert crop.share == pytest.approx(area / (width * height))
    found = (2 * crop.left_px + crop.width_px - width) ** 2 + (2 * crop.top_px + crop.height_px - height) ** 2
    assert found == -away
    assert crop.left_px >= 0 and crop.left_px + crop.width_px <= width
    assert crop.top_px >= 0 and crop.top_px + crop.height_px <= height


@pytest.mark.parametrize("shape", SHAPE_NAMES)
@pytest.mark.parametrize("centred", [True, False])
@pytest.mark.parametrize("size", [(6000, 4000), (4000, 6000), (4000, 4000), (5472, 3648)])
def test_a_clean_picture_keeps_all_that_the_shape_allows(shape, centred, size):
    width, height = size
    crop = clean_crop(np.zeros((41, 61)), width, height, shape, centred=centred)
    long, short = max(size), min(size)
    ratio = long / short if shape in ("same", "free") else SHAPES[shape][0] / SHAPES[shape][1]
    expected = (long, int(long / ratio)) if ratio >= long / short else (int(short * ratio), short)
    if height > width:
        expected = expected[::-1]
    assert (crop.width_px, crop.height_px) == pytest.approx(expected, abs=2)
    assert abs(2 * crop.left_px + crop.width_px - width) <= 1
    assert abs(2 * crop.top_px + crop.height_px - height) <= 1


def test_round_cut_leaves_a_crop_that_touches_the_circle():
    """The largest box of any one shape in a circle has its corners on it, to one cell."""
    reach = 0.8
    losses = corners_cut(41, 61, reach)
    crop = clean_crop(losses, 6000, 4000, "same")
    assert crop.width_px / 6000 == pytest.approx(reach, abs=2 / 40)
    assert crop.width_px * 2 == pytest.approx(crop.height_px * 3, abs=3)
    assert crop.width_px / 6000 <= reach


def test_no_point_of_the_crop_lies_beside_a_lossy_cell():
    losses = corners_cut(41, 61, 0.7)
    losses[20, 3] = 0.51
    for shape in SHAPE_NAMES:
        crop = clean_crop(losses, 6000, 4000, shape)
        columns = slice(floor(crop.left_px / 100), ceil((crop.left_px + crop.width_px) / 100) + 1)
        rows = slice(floor(crop.top_px / 100), ceil((crop.top_px + crop.height_px) / 100) + 1)
        assert losses[rows, columns].max() <= 0.5


def test_free_position_uses_the_clean_side():
    losses = np.zeros((41, 61))
    losses[:, :20] = 1.0
    free = clean_crop(losses, 6000, 4000, "1:1")
    assert (free.width_px, free.left_px) == (4000, 2000)
    middle = clean_crop(losses, 6000, 4000, "1:1", centred=True)
    assert (middle.left_px, middle.width_px) == (2000, 2000)


def test_upright_and_landscape_pictures_have_the_same_crop_turned():
    losses = corners_cut(41, 61, 0.75)
    losses[3, 30] = 2.0
    for shape in SHAPE_NAMES:
        lying = clean_crop(losses, 6000, 4000, shape)
        upright = clean_crop(losses.T, 4000, 6000, shape)
        assert upright.height_px == pytest.approx(lying.width_px, abs=2)
        assert upright.width_px == pytest.approx(lying.height_px, abs=2)


def test_nothing_clean_is_none_and_the_limit_itself_is_clean():
    assert clean_crop(np.full((5, 5), 0.51), 60, 40) is None
    assert clean_crop(np.full((5, 5), 0.5), 60, 40).share == 1.0
    assert clean_crop(np.full((5, 5), 0.5), 60, 40, most_loss=0.4) is None
    lone = np.full((5, 5), inf)
    lone[2, 2] = 0.0
    assert clean_crop(lone, 60, 40) is None


@pytest.mark.parametrize("arguments", [(60, 40, "7:5"), (0, 40, "same")])
def test_what_makes_no_sense_is_refused(arguments):
    with pytest.raises(ValueError, match=r"shape|pixels"):
        clean_crop(np.zeros((5, 5)), *arguments)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_crop_is_shown_where_its_marked_corner_is(orientation):
    """Pillow turns a picture with three marked pixels; the crop turned by us holds the same ones."""
    stored = Image.new("L", (12, 8), 0)
    crop = Crop(2, 1, 7, 4, 28 / 96)
    for x, y, value in ((2, 1, 100), (8, 1, 150), (2, 4, 200)):
        stored.putpixel((x, y), value)
    turned = stored if orientation == 1 else stored.transpose(PILLOW[orientation])
    shown = oriented(crop, orientation, 12, 8)
    cut = turned.crop(
        (shown.left_px, shown.top_px, shown.left_px + shown.width_px, shown.top_px + shown.height_px)
    )
    corners = [(0, 0), (cut.width - 1, 0), (0, cut.height - 1), (cut.width - 1, cut.height - 1)]
    marks = sorted(v for v in (cut.getpixel(place) for place in corners) if v)
    assert marks == [100, 150, 200]
    assert {shown.width_px, shown.height_px} == {7, 4}
    assert shown.share == crop.share


PILLOW = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
"""What Pillow does for each orientation (ImageOps.exif_transpose)."""
