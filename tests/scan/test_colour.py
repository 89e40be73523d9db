"""Colour profile and bit depth, as an order sheet tells them, written by Pillow and read back."""

from __future__ import annotations

import pytest
from camera_files import block
from PIL import Image, ImageCms

from audit.scan import scan
from audit.scan.containers import png
from audit.scan.containers.source import Source
from audit.scan.icc import profile_name

SRGB = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def _first(folder):
    return scan(folder).frames.iloc[0]


def test_the_profile_in_a_file_comes_before_what_exif_says(tmp_path):
    exif = Image.Exif()
    exif[0x0110] = "Tarn"
    exif.get_ifd(0x8769)[0xA001] = 0xFFFF
    picture = Image.new("RGB", (64, 48))
    picture.save(tmp_path / "a.jpg", exif=exif, icc_profile=SRGB)
    row = _first(tmp_path)
    assert (row["colour_profile"], row["bit_depth"]) == ("sRGB built-in", 8)
    picture.save(tmp_path / "a.jpg", exif=exif)
    assert _first(tmp_path)["colour_profile"] == "not sRGB"


@pytest.mark.parametrize(("mode", "bits"), [("RGB", 8), ("I;16", 16)])
def test_bits_of_a_png(tmp_path, mode, bits):
    Image.new(mode, (64, 48)).save(tmp_path / "a.png")
    with Source(tmp_path / "a.png") as source:
        assert png.find(source).bits == bits


def test_nothing_is_said_of_what_is_not_known(tmp_path):
    (tmp_path / "a.dng").write_bytes(block())
    row = _first(tmp_path)
    assert row["colour_profile"] != row["colour_profile"] and str(row["bit_depth"]) == "<NA>"


def test_version_2_and_damage():
    head = bytes(128) + (1).to_bytes(4, "big") + b"desc" + (144).to_bytes(4, "big") + (40).to_bytes(4, "big")
    old = head + b"desc" + bytes(4) + (6).to_bytes(4, "big") + b"Paper\0" + bytes(20)
    assert profile_name(old) == "Paper"
    for cut in range(0, len(SRGB), 37):
        profile_name(SRGB[:cut])
    assert profile_name(None) is None and profile_name(b"\xff" * 500) is None
