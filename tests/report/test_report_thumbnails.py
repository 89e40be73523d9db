from __future__ import annotations

import base64
import io
import struct

import pytest
from PIL import Image

from audit.report.thumbnails import LONGEST_SIDE_PX, Thumbnail, thumbnail


def encoded(size: tuple[int, int], **save: object) -> bytes:
    out = io.BytesIO()
    picture = Image.new("RGB", size, "white")
    picture.paste("black", (0, 0, size[0] // 4, size[1] // 4))
    picture.save(out, "JPEG", **save)
    return out.getvalue()


def opened(made: Thumbnail) -> Image.Image:
    return Image.open(io.BytesIO(base64.b64decode(made.uri.partition(",")[2])))


def test_metadata_is_stripped() -> None:
    exif = Image.Exif()
    exif[0x010E] = "secret place"
    exif[0x0112] = 6
    made = thumbnail(
        encoded((160, 120), exif=exif, comment=b"secret place", icc_profile=b"secret place" * 20)
    )
    raw = base64.b64decode(made.uri.partition(",")[2])
    assert b"secret" not in raw and b"Exif" not in raw and b"ICC" not in raw
    assert "comment" not in opened(made).info and not opened(made).getexif()


@pytest.mark.parametrize(
    ("orientation", "corner"),
    [*zip(range(1, 9), ("nw", "ne", "se", "sw") * 2, strict=True), (0, "nw"), (99, "nw")],
)
def test_picture_is_upright(orientation: int, corner: str) -> None:
    """The dark corner lies top left as stored; the eight values say where it belongs."""
    made = thumbnail(encoded((160, 120)), orientation)
    assert (made.width_px, made.height_px) == ((120, 160) if orientation in (5, 6, 7, 8) else (160, 120))
    picture = opened(made).convert("L")
    x = 5 if "w" in corner else picture.width - 6
    y = 5 if "n" in corner else picture.height - 6
    assert picture.getpixel((x, y)) < 60


def test_black_bars_are_cut_off() -> None:
    boxed = Image.new("RGB", (160, 120), "black")
    boxed.paste("white", (0, 7, 160, 113))
    out = io.BytesIO()
    boxed.save(out, "JPEG")
    made = thumbnail(out.getvalue(), aspect=1.5)
    assert (made.width_px, made.height_px) == (160, 107)
    assert thumbnail(out.getvalue(), 6, aspect=1.5).height_px == 160
    assert thumbnail(encoded((160, 120)), aspect=1.5).height_px == 120, "bright beside it: left as it is"
    assert thumbnail(out.getvalue(), aspect=1000.0).height_px == 120


def test_large_is_made_small_and_small_stays() -> None:
    assert (thumbnail(encoded((1600, 1000))).width_px) == LONGEST_SIDE_PX
    assert (thumbnail(encoded((80, 60))).width_px) == 80


def test_a_bomb_is_refused_by_its_header() -> None:
    small = encoded((64, 64))
    at = small.index(b"\xff\xc0") + 5
    bomb = small[:at] + struct.pack(">HH", 65000, 65000) + small[at + 4 :]
    assert thumbnail(bomb).reason == "thumbnail left out: more than 4 megapixels"
    assert (
        thumbnail(encoded((2500, 2000))).reason
        == "thumbnail left out: 2500 x 2000 px is more than 4 megapixels"
    )
    assert not thumbnail(encoded((2500, 2000))).uri


@pytest.mark.parametrize(
    "jpeg", [None, b"", b"\xff\xd8", b"no picture", b"GIF89a", encoded((160, 120))[:300]]
)
def test_a_reason_where_there_is_no_picture(jpeg: bytes | None) -> None:
    made = thumbnail(jpeg)
    assert made.reason in ("no thumbnail in the file", "thumbnail is damaged") and not made.uri
