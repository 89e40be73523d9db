"""The previews that the simulated cameras write, read back by two other libraries."""

from __future__ import annotations

import io
import struct

import exifread
import numpy as np
import pytest
from PIL import Image

from audit.demo import exif_block as block
from audit.demo.header import with_preview


def _jpegs(trip):
    return [p for p in sorted(trip.rglob("*.JPG")) if not p.name.startswith("._") and p.stat().st_size > 1000]


def _readable(path):
    return any(path.read_bytes()[:4])  # one of them was never written


def test_every_jpeg_has_its_picture_once_more_in_small(trip):
    looked = [path for path in _jpegs(trip) if _readable(path)]
    assert len(looked) > 80
    for path in looked[::7]:
        with Image.open(path) as picture:
            assert (picture.format, picture.n_frames, picture.size) == ("MPO", 2, (900, 600))
            first, second = (entry["Attribute"] for entry in picture.mpinfo[0xB002])
            whole = np.asarray(picture.convert("L").resize((64, 43), Image.Resampling.BOX), dtype=float)
            picture.seek(1)
            assert picture.size == (640, 427)
            small = np.asarray(picture.convert("L").resize((64, 43), Image.Resampling.BOX), dtype=float)
        assert first["MPType"] == "Baseline MP Primary Image" and first["DependentParentImageFlag"]
        assert second["MPType"] == "Large Thumbnail (VGA Equivalent)" and second["DependentChildImageFlag"]
        assert abs(whole - small).mean() < 1  # edges fall into other boxes


def test_sizes_in_the_segment_are_those_of_the_pictures(trip):
    path = _jpegs(trip)[0]
    data = path.read_bytes()
    with Image.open(path) as picture:
        entries = picture.mpinfo[0xB002]
    assert entries[0]["Size"] + entries[1]["Size"] == len(data)
    for start in (0, entries[0]["Size"]):
        assert data[start : start + 2] == b"\xff\xd8"
    assert data[entries[0]["Size"] - 2 : entries[0]["Size"]] == data[-2:] == b"\xff\xd9"


def test_raws_hold_a_preview_beside_their_mosaic(trip):
    rawpy = pytest.importorskip("rawpy", reason="the raw library is not installed")
    path = next(iter(sorted(trip.rglob("*.DNG"))))
    with rawpy.imread(str(path)) as raw:
        assert (raw.sizes.raw_width, raw.sizes.raw_height) == (96, 64)
        thumbnail = raw.extract_thumb()
    assert Image.open(io.BytesIO(thumbnail.data)).size == (640, 427)


def test_a_picture_without_exif_is_refused():
    with pytest.raises(ValueError, match="EXIF"):
        with_preview(b"\xff\xd8\xff\xe0\x00\x10", b"")


def test_one_tag_may_lead_to_several_directories():
    below = tuple(block.Directory({0x0100: block.long(width)}) for width in (11, 22, 33))
    main = block.Directory({0x0110: block.text("Tarn")}, below={block.SUB_IFD_POINTER: below})
    data = block.tiff_block([main])
    tags = exifread.process_file(io.BytesIO(data), details=False)
    offsets = tags["Image SubIFDs"].values
    assert [struct.unpack_from("<I", data, at + 2 + 8)[0] for at in offsets] == [11, 22, 33]
