"""PNG, WebP, AVIF, JPEG 2000 and JPEG XL: frames where they hold exposure data, passed over where not."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path
from typing import Any

import pytest
from camera_files import block, box, heif, jpeg, put, text, tiff
from PIL import Image, features

from audit.pixels.sources import Sketches
from audit.scan import scan

BLOCK = block()
PLAIN = tiff({0x131: text("a program")})
"""A block that says nothing about an exposure."""
PNG_MAGIC = b"\x89PNG\r\n\x1a\n"
XL = b"\0\0\0\x0cJXL \r\n\x87\n" + box(b"ftyp", b"jxl \0\0\0\0jxl ")
J2 = b"\0\0\0\x0cjP  \r\n\x87\n" + box(b"ftyp", b"jp2 \0\0\0\0jp2 ")
J2_HEAD = box(b"jp2h", box(b"ihdr", struct.pack(">IIHBBBB", 400, 600, 3, 7, 7, 0, 0)))


def saved(form: str, exif: bytes | None, size: tuple[int, int] = (60, 40)) -> bytes:
    """A picture as Pillow writes it."""
    out = io.BytesIO()
    Image.new("RGB", size, (90, 90, 90)).save(out, form, **({} if exif is None else {"exif": exif}))
    return out.getvalue()


def chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


def png(*chunks: bytes, after: bytes = b"") -> bytes:
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", 600, 400, 8, 2, 0, 0, 0))
    return PNG_MAGIC + head + b"".join(chunks) + chunk(b"IDAT", b"") + after + chunk(b"IEND", b"")


def profile(exif: bytes) -> bytes:
    digits = (b"Exif\0\0" + exif).hex()
    lines = "\n".join(digits[place : place + 72] for place in range(0, len(digits), 72))
    return f"\nexif\n{len(digits) // 2:8d}\n{lines}\n".encode()


def xl(exif: bytes, offset: int = 0) -> bytes:
    return XL + box(b"jxlc", b"\xff\x0a") + box(b"Exif", struct.pack(">I", offset) + bytes(offset) + exif)


def j2(exif: bytes) -> bytes:
    return J2 + J2_HEAD + box(b"uuid", b"JpgTiffExif->JP2" + exif) + box(b"jp2c", b"\xff\x4f\xff\x51")


def avif(exif: bytes) -> bytes:
    return heif(exif).replace(b"ftypheic", b"ftypavif")


KEY = b"Raw profile type exif\0"
BUILT = {
    "early.png": (png(chunk(b"eXIf", BLOCK)), "PNG"),
    "late.png": (png(after=chunk(b"eXIf", BLOCK)), "PNG"),
    "text.png": (png(chunk(b"tEXt", KEY + profile(BLOCK))), "PNG"),
    "packed.png": (png(chunk(b"zTXt", KEY + b"\0" + zlib.compress(profile(BLOCK)))), "PNG"),
    "a.avif": (avif(BLOCK), "AVIF"),
    "a.jp2": (j2(BLOCK), "JPEG 2000"),
    "signed.jp2": (j2(b"Exif\0\0" + BLOCK), "JPEG 2000"),
}


SIZES = {"AVIF": (4000, 3000)}


def only(dump: Path) -> dict[str, Any]:
    found = scan(dump)
    assert len(found.passed_over) == 0
    return {**found.frames.to_dict("records")[0], "count": len(found.frames)}


@pytest.mark.parametrize("name", BUILT)
def test_exposure_data_are_found(dump: Path, name: str) -> None:
    content, form = BUILT[name]
    put(dump, name, content)
    row = only(dump)
    assert (row["formats"], row["model"], row["iso"], row["exposure_time_s"]) == (
        form,
        "Brattholm Tarn",
        100,
        1 / 125,
    )
    assert (row["width_px"], row["height_px"], row["notes"]) == (*SIZES.get(form, (600, 400)), [])


@pytest.mark.parametrize("offset", [0, 6])
def test_jpeg_xl_in_its_box(dump: Path, offset: int) -> None:
    put(dump, "a.jxl", xl(BLOCK, offset))
    row = only(dump)
    assert (row["formats"], row["model"], row["f_number"]) == ("JPEG XL", "Brattholm Tarn", 11)


@pytest.mark.parametrize(("form", "ending"), [("PNG", "png"), ("WEBP", "webp"), ("AVIF", "avif")])
def test_as_another_library_writes_them(dump: Path, form: str, ending: str) -> None:
    if form != "PNG" and not features.check(form.lower()):
        pytest.skip(f"Pillow is built without {form}")
    put(dump, f"a.{ending}", saved(form, b"Exif\0\0" + BLOCK))
    row = only(dump)
    assert (row["model"], row["iso"], row["width_px"], row["height_px"]) == ("Brattholm Tarn", 100, 60, 40)
    assert row["formats"].casefold() == ending


@pytest.mark.parametrize(
    ("name", "content", "reason"),
    [
        ("plain.png", saved("PNG", None), "the file holds no EXIF"),
        (
            "screen.png",
            png(chunk(b"eXIf", PLAIN)),
            "the EXIF block holds nothing about camera, time or exposure",
        ),
        (
            "dated.png",
            png(chunk(b"eXIf", block(without=(0x829A, 0x829D, 0x8827)))),
            "a picture without exposure",
        ),
        ("cut.png", png(chunk(b"eXIf", BLOCK))[:60], "the file holds no EXIF"),
        ("bad.png", png(chunk(b"zTXt", KEY + b"\0not packed")), "the file holds no EXIF"),
        ("odd.png", png(chunk(b"tEXt", KEY + b"\nexif\n 9\nabc")), "the file holds no EXIF"),
        ("empty.png", b"", "the file is empty"),
        ("other.webp", b"no picture at all", "does not start like a picture"),
        ("plain.webp", saved("WEBP", None), "the file holds no EXIF"),
        ("bare.jxl", b"\xff\x0a" + bytes(20), "a bare codestream, which can hold no EXIF"),
        ("bare.j2k", b"\xff\x4f\xff\x51" + bytes(20), "a bare codestream, which can hold no EXIF"),
        ("plain.jp2", J2 + J2_HEAD, "the file holds no EXIF"),
        (
            "packed.jxl",
            XL + box(b"brob", b"Exif" + bytes(9)),
            "packed with Brotli, which is not unpacked here",
        ),
        ("far.jxl", xl(BLOCK)[:-200], "the file holds no EXIF"),
    ],
)
def test_others_are_passed_over_with_the_reason(dump: Path, name: str, content: bytes, reason: str) -> None:
    put(dump, name, content)
    found = scan(dump)
    assert len(found.frames) == 0
    assert found.passed_over["path"].tolist() == [name]
    assert reason in found.passed_over["reason"].iloc[0]
    assert found.files_seen == 1


def test_an_export_beside_its_raw_is_one_frame_and_a_strange_one_is_not(dump: Path) -> None:
    put(dump, "TARN0001.NEF", BLOCK)
    put(dump, "TARN0001.png", png(chunk(b"eXIf", BLOCK)))
    put(dump, "TARN0002.JPG", jpeg(block(time="2026:05:02 05:11:00")))
    put(dump, "TARN0002.png", png(chunk(b"eXIf", block(model="Brattholm Ness"))))
    frames = scan(dump).frames
    assert sorted(frames["formats"]) == ["JPEG", "PNG", "PNG+NEF"]


def test_passed_over_files_stay_in_the_order_of_the_walk(dump: Path) -> None:
    for name in ("a.txt", "b.png", "c.mov"):
        put(dump, name, b"x")
    assert scan(dump).passed_over["path"].tolist() == ["a.txt", "b.png", "c.mov"]


def test_pixels_of_formats_that_are_not_decoded_say_so(dump: Path) -> None:
    put(dump, "a.jxl", xl(BLOCK))
    put(dump, "b.png", saved("PNG", b"Exif\0\0" + BLOCK, (900, 600)))
    rows = scan(dump).frames.to_dict("records")
    with Sketches(dump, "full") as pictures:
        assert "JPEG XL are not decoded here" in pictures.why(rows[0])
        assert pictures.why(rows[1]) == ""
