"""What the EXIF writer writes, read back by two other libraries."""

from __future__ import annotations

import io
import struct
from fractions import Fraction

import exifread
import pytest
from PIL import ExifTags, Image

from audit.demo import exif_block as block


def _jpeg(width: int = 32, height: int = 16) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), (90, 120, 160)).save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def written() -> bytes:
    exif = block.Directory(
        {
            0x829A: block.ratio((1, 60)),
            0x829D: block.ratio(Fraction(28, 5)),
            0x8827: block.short(640),
            0x9003: block.text("2025:09:12 07:10:20"),
            0x9204: block.signed_ratio((-2, 3)),
            0xA432: block.ratio((16, 1), (35, 1), (4, 1), (4, 1)),
            0xA434: block.text("Sund 16-35 mm f4"),
            0x9000: block.raw_bytes(b"0232"),
            0xA002: block.long(900),
        }
    )
    place = block.Directory(
        {
            1: block.text("N"),
            2: block.ratio((12, 1), (30, 1), (0, 1)),
            3: block.text("W"),
            4: block.ratio((40, 1), (0, 1), (15, 2)),
        }
    )
    main = block.Directory(
        {0x010F: block.text("Brattholm"), 0x0112: block.short(8)},
        below={block.EXIF_POINTER: exif, block.GPS_POINTER: place},
    )
    return block.with_exif(_jpeg(), block.tiff_block([main, block.thumbnail_directory(_jpeg(160, 120))]))


def test_read_back_with_exifread(written):
    tags = exifread.process_file(io.BytesIO(written), details=True)
    assert str(tags["Image Make"]) == "Brattholm"
    assert tags["EXIF ExposureTime"].values == [Fraction(1, 60)]
    assert tags["EXIF FNumber"].values == [Fraction(28, 5)]
    assert tags["EXIF ExposureBiasValue"].values == [Fraction(-2, 3)]
    assert str(tags["EXIF LensModel"]) == "Sund 16-35 mm f4"
    assert [float(v) for v in tags["EXIF LensSpecification"].values] == [16, 35, 4, 4]
    assert str(tags["GPS GPSLatitudeRef"]) == "N"
    assert tags["JPEGThumbnail"] == _jpeg(160, 120)


def test_read_back_with_pillow(written):
    picture = Image.open(io.BytesIO(written))
    exif = picture.getexif()
    assert exif[ExifTags.Base.Orientation] == 8
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    assert inner[ExifTags.Base.ExposureTime] == Fraction(1, 60)
    assert inner[ExifTags.Base.ISOSpeedRatings] == 640
    assert inner[ExifTags.Base.DateTimeOriginal] == "2025:09:12 07:10:20"
    assert float(inner[ExifTags.Base.ExposureBiasValue]) == pytest.approx(-2 / 3)
    assert exif.get_ifd(ExifTags.IFD.GPSInfo)[4] == (40.0, 0.0, 7.5)
    assert picture.size == (32, 16) and picture.getpixel((3, 3))


def test_fractions_stay_as_written_even_impossible_ones():
    data = block.tiff_block([block.Directory({0x829A: block.ratio((1, 0)), 0x829D: block.ratio((0, 1))})])
    first = struct.unpack_from("<I", data, 4)[0]
    assert struct.unpack_from("<H", data, first)[0] == 2
    offset = struct.unpack_from("<I", data, first + 2 + 8)[0]
    assert struct.unpack_from("<II", data, offset) == (1, 0)


def test_tags_rise_and_offsets_are_even(written):
    data = written[12:]
    at = struct.unpack_from("<I", data, 4)[0]
    while at:
        assert at % 2 == 0
        count = struct.unpack_from("<H", data, at)[0]
        tags = [struct.unpack_from("<H", data, at + 2 + 12 * i)[0] for i in range(count)]
        assert tags == sorted(tags)
        at = struct.unpack_from("<I", data, at + 2 + 12 * count)[0]


def test_a_block_too_large_for_one_segment_is_refused():
    with pytest.raises(ValueError, match="does not fit"):
        block.with_exif(_jpeg(), bytes(70_000))
