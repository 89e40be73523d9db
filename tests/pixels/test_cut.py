"""Edges measured in painted pictures, whose place is known exactly."""

import numpy as np
import pytest
from PIL import Image

from audit.pixels.cut import CORNERS, measure_cut
from audit.pixels.decode import PixelsUnreadable, grey_codes

ROWS, COLUMNS = 400, 600


def field():
    half = np.hypot(ROWS, COLUMNS) / 2
    x = (np.arange(COLUMNS) + 0.5 - COLUMNS / 2) / half
    y = -(np.arange(ROWS) + 0.5 - ROWS / 2)[:, None] / half
    return np.broadcast_arrays(x, y)


def codes(stops, level=0.0, noise=0.5):
    """sRGB codes of light in stops around a middle tone."""
    light = 0.25 * 2.0 ** (np.asarray(stops) + level)
    srgb = 1.055 * np.clip(light, 0.0032, 1) ** (1 / 2.4) - 0.055
    grain = np.random.default_rng(1).normal(0, noise, srgb.shape)
    return np.clip(srgb * 255 + grain, 0, 255).astype(np.uint8)


def cut(place=0.8, per_radius=25.0, centre=(0.0, 0.0), depth=6.0):
    """Loss in stops that reaches 1 at `place` half diagonals and grows steeply from 0."""
    x, y = field()
    radius = np.hypot(x - centre[0], y - centre[1])
    return np.clip((radius - place) * per_radius + 1, 0, depth)


def falloff(stops=0.8):
    x, y = field()
    return stops * (x**2 + y**2)


def heights(measured, level):
    edges = next(e for e in measured.levels if next(filter(None, e)).level_stops == level)
    return [edge and edge.height for edge in edges]


@pytest.mark.parametrize("against_bare", [True, False])
@pytest.mark.parametrize("place", [0.70, 0.80, 0.90])
def test_the_edge_is_found_in_all_corners(place, against_bare):
    x, y = field()
    sky = 0.4 * x - 0.3 * y - falloff()
    bare = codes(0.1 * x - falloff(), level=0.3) if against_bare else None
    measured = measure_cut(codes(sky - cut(place)), bare)
    assert measured.refused == ""
    assert measured.against == ("bare frame" if against_bare else "smooth fit")
    # Plain sRGB is read as a camera's curve, flatter: the edge seems to lie a little further out.
    assert heights(measured, 1.0) == pytest.approx([place + 0.008] * 4, abs=0.016)


def test_a_rig_out_of_centre_moves_opposite_corners_apart_and_leaves_their_mean():
    measured = measure_cut(codes(-cut(0.8, centre=(0.02, 0.0)) - falloff()))
    found = heights(measured, 1.0)
    assert found[1] - found[0] == pytest.approx(0.033, abs=0.008)
    assert (found[0] + found[3]) / 2 == pytest.approx((found[1] + found[2]) / 2, abs=0.003)


def test_the_error_covers_the_miss():
    for place in (0.7, 0.8, 0.9):
        measured = measure_cut(codes(-cut(place) - falloff()))
        for edge in measured.levels[0]:
            assert abs(edge.height - place) < 4 * edge.err < 0.05


def test_deeper_losses_lie_further_out():
    measured = measure_cut(codes(-cut(0.8) - falloff()))
    assert heights(measured, 0.5) < heights(measured, 1.0) < heights(measured, 2.0)


def test_no_cut_is_told_apart_from_the_lens_own_falloff():
    for stops in (0.0, 1.0, 2.5):
        assert measure_cut(codes(-falloff(stops), level=0.8)).uncut
    bare = codes(-falloff(2.0), level=0.8)
    assert measure_cut(codes(-falloff(2.0), level=0.5), bare).uncut


def test_slow_falloff_is_no_edge():
    slow = measure_cut(codes(-cut(0.85, per_radius=4.0)), codes(np.zeros((ROWS, COLUMNS))))
    assert "too slowly" in slow.refused


def test_clouds_are_refused():
    x, y = field()
    clouds = 0.5 * np.sin(9 * x + 2) * np.cos(11 * y + 1)
    assert "clouds" in measure_cut(codes(clouds - cut())).refused


def test_a_steep_gradient_is_refused():
    x, _ = field()
    assert "across the picture" in measure_cut(codes(1.9 * x - cut(), level=-0.2)).refused


def test_white_corners_and_black_middles_are_refused():
    assert "white" in measure_cut(codes(-cut(), level=2.5)).refused
    assert "white" in measure_cut(codes(-cut()), codes(-falloff(), level=2.5)).refused
    assert "black" in measure_cut(np.full((ROWS, COLUMNS), 3, np.uint8)).refused


def test_one_dark_side_is_no_cut():
    x, _ = field()
    one_side = np.where(x > 0, cut(), 0)
    assert "too few corners" in measure_cut(codes(-one_side - falloff())).refused


def test_a_cut_that_leaves_no_field_is_refused():
    assert "longer focal length" in measure_cut(codes(-cut(0.5))).refused


def test_pictures_of_any_size_and_content_are_answered():
    rng = np.random.default_rng(0)
    for shape in ((3, 4), (40, 40), (90, 60), (200, 300)):
        for picture in (rng.integers(0, 256, shape), np.zeros(shape), np.full(shape, 255)):
            assert measure_cut(picture.astype(np.uint8)).refused


def test_corners_are_named_as_stored():
    only = np.zeros((ROWS, COLUMNS))
    only[: ROWS // 2, : COLUMNS // 2] = cut()[: ROWS // 2, : COLUMNS // 2]
    measured = measure_cut(codes(-only - falloff()))
    deepest = np.nanmax(measured.losses, axis=1)
    assert CORNERS[int(np.argmax(deepest))] == "top left"


def test_a_picture_is_decoded_small_and_not_turned(tmp_path):
    picture = Image.new("RGB", (3000, 2000), (128, 128, 128))
    picture.paste((10, 10, 10), (0, 0, 300, 200))
    exif = Image.Exif()
    exif[0x0112] = 8
    picture.save(tmp_path / "a.jpg", exif=exif, quality=95)
    grey = grey_codes(tmp_path / "a.jpg")
    assert grey.shape == (600, 900)
    assert grey[5, 5] == pytest.approx(10, abs=2) and grey[-5, 5] == pytest.approx(128, abs=2)
    picture.save(tmp_path / "a.png")
    assert grey_codes(tmp_path / "a.png").shape == (600, 900)


def test_what_is_no_picture_is_refused_with_the_name(tmp_path):
    (tmp_path / "a.jpg").write_bytes(b"\xff\xd8\xff\xe0 no picture")
    with pytest.raises(PixelsUnreadable, match=r"a\.jpg: the picture is damaged"):
        grey_codes(tmp_path / "a.jpg")
    with pytest.raises(PixelsUnreadable, match=r"absent\.jpg: cannot be read: No such file"):
        grey_codes(tmp_path / "absent.jpg")
    with pytest.raises(PixelsUnreadable, match="no picture whose pixels"):
        grey_codes(tmp_path / "a.dng")


def test_a_bomb_is_refused_before_it_is_decoded(tmp_path):
    small = Image.new("L", (64, 64))
    small.save(tmp_path / "b.png")
    data = bytearray((tmp_path / "b.png").read_bytes())
    data[16:24] = (60_000).to_bytes(4, "big") * 2
    import zlib

    data[29:33] = zlib.crc32(bytes(data[12:29])).to_bytes(4, "big")
    (tmp_path / "b.png").write_bytes(bytes(data))
    with pytest.raises(PixelsUnreadable, match="too many pixels"):
        grey_codes(tmp_path / "b.png")
