from __future__ import annotations

import struct
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from camera_files import (
    THUMBNAIL,
    block,
    box,
    camera,
    cr3,
    crw,
    heif,
    jpeg,
    put,
    raf,
    ratio,
    rw2,
    segment,
    text,
    tiff,
    whole,
)

from audit.scan.reader import read_file

POSITION = {2: ratio((61, 1), (2, 1), (3, 1)), 4: ratio((7, 1), (2, 1), (3, 1))}


def read(folder: Path, name: str, content: bytes) -> dict[str, Any]:
    return read_file(put(folder, name, content))


def usual(row: dict[str, Any]) -> bool:
    """Whether a row holds the values of the usual frame."""
    values = (row["model"], row["exposure_time_ratio"], row["f_number"], row["iso"], row["focal_length_mm"])
    assert row["problem"] is None
    return values == ("Brattholm Tarn", "1/125", 11, 100, 24)


@pytest.mark.parametrize(
    ("name", "magic", "label"),
    [
        *(("a.tif", 42, "TIFF"), ("a.DNG", 42, "DNG"), ("a.nef", 42, "NEF"), ("a.ARW", 42, "ARW")),
        *(("a.pef", 42, "PEF"), ("a.iiq", 42, "IIQ"), ("a.orf", 0x4F52, "ORF")),
    ],
)
@pytest.mark.parametrize("order", ["<", ">"])
def test_the_tiff_family(tmp_path: Path, name: str, magic: int, label: str, order: str) -> None:
    first, exif = camera()
    row = read(tmp_path, name, tiff(first, exif, POSITION, order=order, magic=magic))
    assert usual(row)
    assert row["formats"] == label
    assert row["gps_present"] is True


def test_the_other_magic_number_of_orf(tmp_path: Path) -> None:
    first, exif = camera()
    row = read(tmp_path, "a.orf", tiff(first, exif, magic=0x5352))
    assert usual(row)
    assert row["formats"] == "ORF"


def test_cr2_by_its_content(tmp_path: Path) -> None:
    first, exif = camera()
    content = bytearray(tiff({0x10E: text("a view"), **first}, exif))
    moved = 16 + len(content)  # the first directory copied behind, with the mark of a CR2 in its place
    head = b"II*\0" + struct.pack("<I", moved) + b"CR\2\0"
    row = read(tmp_path, "a.tif", head + bytes(content[12:]) + bytes(16) + bytes(content[8:]))
    assert row["formats"] == "CR2"


def test_the_size_of_a_raw_lies_in_its_sub_directory(tmp_path: Path) -> None:
    first, exif = camera(image={0x100: whole(160), 0x101: whole(120)})
    row = read(tmp_path, "a.nef", tiff(first, exif, sub={0x100: whole(6016), 0x101: whole(4016)}))
    assert (row["width_px"], row["height_px"]) == (6016, 4016)
    assert row["notes"] == []


def test_the_size_of_a_raw_that_shows_only_a_preview(tmp_path: Path) -> None:
    first, exif = camera(
        image={0x100: whole(1536), 0x101: whole(1024)}, more={0xA002: whole(3456), 0xA003: whole(2304)}
    )
    row = read(tmp_path, "a.cr2", tiff(first, exif))
    assert (row["width_px"], row["height_px"], row["notes"]) == (3456, 2304, [])


def test_cr3(tmp_path: Path) -> None:
    first, exif = camera(more={0xA002: whole(5472), 0xA003: whole(3648)})
    row = read(tmp_path, "a.cr3", cr3(tiff(first), tiff(exif), tiff(POSITION), THUMBNAIL))
    assert usual(row)
    assert (row["width_px"], row["height_px"]) == (5472, 3648)
    assert row["gps_present"] is True
    assert row["thumbnail_jpeg"] == THUMBNAIL
    assert read(tmp_path, "b.cr3", cr3(tiff(first), tiff(exif)))["gps_present"] is False


def test_raf(tmp_path: Path) -> None:
    row = read(tmp_path, "a.raf", raf(jpeg(block(thumbnail=THUMBNAIL))))
    assert usual(row)
    assert (row["formats"], row["thumbnail_jpeg"]) == ("RAF", THUMBNAIL)
    assert "missing" in read(tmp_path, "b.raf", raf(b"nothing"))["problem"]


def test_rw2(tmp_path: Path) -> None:
    row = read(tmp_path, "a.rw2", rw2(jpeg(block(), size=(1920, 1440)), (4, 8, 2740, 3656)))
    assert usual(row)
    assert (row["width_px"], row["height_px"]) == (3648, 2736)


@pytest.mark.parametrize("offset", [True, False])
@pytest.mark.parametrize("version", [0, 1])
def test_heif(tmp_path: Path, offset: bool, version: int) -> None:
    row = read(tmp_path, "a.heic", heif(block(), offset=offset, version=version))
    assert usual(row)
    assert (row["width_px"], row["height_px"]) == (4000, 3000)


def test_crw_by_its_own_records(tmp_path: Path) -> None:
    row = read(tmp_path, "a.crw", crw())
    assert row["problem"] is None
    assert (row["make"], row["model"]) == ("Brattholm", "Brattholm C3")
    assert row["captured_at"] == datetime(2004, 11, 9, 11, 33, 20)
    assert (row["exposure_time_exact_s"], row["f_number_exact"], row["iso"]) == (1 / 64, 8, 100)
    assert (row["exposure_time_basis"], row["f_number_basis"], row["iso_source"]) == ("apex", "apex", "CIFF")
    assert row["exposure_bias_stops"] == -0.5
    assert row["focal_length_mm"] == 10
    assert (row["width_px"], row["height_px"], row["orientation"]) == (2272, 1704, 6)
    assert read(tmp_path, "b.crw", crw(exposed=False)).get("exposure_time_s") is None


def test_a_crw_without_records(tmp_path: Path) -> None:
    row = read(tmp_path, "a.crw", b"II\x1a\0\0\0HEAPCCDR" + bytes(60))
    assert "no THM file" in row["problem"]


@pytest.mark.parametrize(
    "before",
    [
        segment(0xE0, b"JFIF\0\1\2\0\0\1\0\1\0\0"),
        segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0" + bytes(60_000)),
        segment(0xE2, bytes(30_000)) * 12,
        b"\xff\xff\xff" + segment(0xE3, b"x"),
        segment(0xE1, b"Exif\0\0not a block"),
        segment(0xE0, b""),
    ],
)
def test_jpeg_with_other_segments_before_the_block(tmp_path: Path, before: bytes) -> None:
    assert usual(read(tmp_path, "a.jpg", jpeg(block(), before=before)))


def test_jpeg_content_under_another_ending(tmp_path: Path) -> None:
    row = read(tmp_path, "a.nef", jpeg(block()))
    assert usual(row)
    assert row["formats"] == "JPEG"
    assert row["notes"] == ["the name ends in .nef, the content is JPEG"]


@pytest.mark.parametrize(
    ("name", "content", "problem"),
    [
        ("a.jpg", b"", "the file is empty"),
        ("a.jpg", jpeg(None), "the file holds no EXIF"),
        ("a.jpg", bytes(5000), "starts with zeros"),
        ("a.mrw", b"\0MRM" + b"x" * 100, "does not start like a picture"),
        ("a.tif", b"II+\0" + bytes(50), "BigTIFF"),
        ("a.tif", b"II*\0", "the file holds no EXIF"),
        ("a.heic", box(b"ftyp", b"heic" + bytes(12)), "the file holds no EXIF"),
        ("a.jpg", jpeg(tiff({0x10E: text("a view")})), "nothing about camera, time or exposure"),
    ],
)
def test_files_without_values_say_why(tmp_path: Path, name: str, content: bytes, problem: str) -> None:
    row = read(tmp_path, name, content)
    assert problem in row["problem"]
    assert row.get("model") is None
