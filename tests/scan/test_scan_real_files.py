from __future__ import annotations

import json
import time
from datetime import datetime
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from PIL import Image

from audit.scan import Scan, scan
from audit.scan.exif import EXPOSURE_MODES, METERING, PROGRAMS, WHITE_BALANCE

# Fields of the reference that the table holds: how the reference's value looks in our column.
FIELDS = {
    "ExposureTime": "exposure_time_s",
    "FNumber": "f_number",
    "ISO": "iso",
    "FocalLength": "focal_length_mm",
    "FocalLengthIn35mmFormat": "focal_length_35mm",
    "Make": "make",
    "Model": "model",
    "LensModel": "lens",
    "LensSerialNumber": "lens_serial",
    "Orientation": "orientation",
    "ExposureCompensation": "exposure_bias_stops",
    "ImageWidth": "width_px",
    "ImageHeight": "height_px",
}
WORDS = {
    "ExposureMode": ("exposure_mode", EXPOSURE_MODES),
    "ExposureProgram": ("exposure_program", PROGRAMS),
    "MeteringMode": ("metering", METERING),
    "WhiteBalance": ("white_balance", WHITE_BALANCE),
}
# Every field that differs from the reference, with the reason.
MISSES = {
    # The reference gives the size of a cut-down preview (8 x 8); ours is that of the embedded picture.
    ("t_images_FujiFilm.raf", "ImageWidth"),
    ("t_images_FujiFilm.raf", "ImageHeight"),
    # The reference gives the first directory's preview (1536 x 1024); ours is the picture's (3456 x 2304).
    ("t_images_CanonRaw.cr2", "ImageWidth"),
    ("t_images_CanonRaw.cr2", "ImageHeight"),
}


@pytest.fixture(scope="module")
def found() -> Scan:
    folder = Path(__file__).parents[2].parent / "shared" / "photos"
    if not folder.is_dir():
        pytest.skip(f"real test files are not here: {folder}")
    return scan(folder)


def test_every_file_is_in_a_row_or_passed_over(found: Scan) -> None:
    on_disk = sorted(p.relative_to(found.root).as_posix() for p in found.root.rglob("*") if p.is_file())
    listed = [name for files in found.frames["files"] for name in files]
    assert sorted(listed + list(found.passed_over["path"])) == on_disk
    assert found.files_seen == len(on_disk)


def test_only_the_broken_file_has_a_problem(found: Scan) -> None:
    problems = found.frames.set_index("frame")["problem"].dropna()
    assert list(problems.index) == [
        "formats/rw2_Issue_419"
    ]  # 368 bytes of noise behind the right magic number


def test_values_of_real_files_are_possible(found: Scan) -> None:
    frames = found.frames
    assert frames["ev100"].dropna().between(-2, 17).all()  # all are daylight or lit scenes
    assert frames["captured_at"].dropna().between(datetime(1999, 1, 1), datetime(2026, 1, 1)).all()
    assert frames["iso"].dropna().between(30, 25_600).all()
    assert frames["f_number"].dropna().between(1, 11).all()
    assert frames["focal_length_mm"].dropna().between(2, 100).all()
    assert frames["orientation"].dropna().between(1, 8).all()
    wide = frames["focal_plane_width_mm"].dropna()
    assert wide.between(1.9, 36).all()
    assert frames["ev100"].notna().sum() >= 91


def test_fields_against_the_reference(found: Scan) -> None:
    reference = json.loads((found.root / "formats" / "reference.json").read_text())
    rows = {Path(row["files"][0]).name: row for row in found.frames.to_dict("records")}
    compared, misses = 0, set()
    for name, entry in reference.items():
        for field, value in entry["fields"].items():
            same = compare(rows[name], field, value)
            if same is not None:
                compared += 1
                misses |= set() if same else {(name, field)}
    assert misses == MISSES
    assert compared == 161


def test_jpegs_against_a_second_reader(found: Scan) -> None:
    tags = {0x829A: "exposure_time_s", 0x829D: "f_number", 0x8827: "iso", 0x920A: "focal_length_mm"}
    compared = 0
    for row in found.frames.to_dict("records"):
        if row["formats"] != "JPEG":
            continue
        with Image.open(found.root / row["files"][0]) as picture:
            assert picture.size == (row["width_px"], row["height_px"])
            exif = picture.getexif()
        inner = exif.get_ifd(0x8769)
        for tag, column in tags.items():
            if tag in inner:
                compared += 1
                assert row[column] == pytest.approx(float(inner[tag])), (row["frame"], column)
        if 0x9003 in inner:
            compared += 1
            assert f"{row['captured_at']:%Y:%m:%d %H:%M:%S}" == inner[0x9003]
        if 0x0110 in exif:
            compared += 1
            assert row["model"] == exif[0x0110].strip(" \0")
    assert compared > 500


def compare(row: dict[str, Any], field: str, value: Any) -> bool | None:
    """Whether our row agrees with the reference; None for a field that the table does not hold."""
    if field in FIELDS:
        ours = row[FIELDS[field]]
        return ours == (pytest.approx(value, rel=1e-6) if isinstance(value, (int, float)) else value)
    if field in WORDS:
        column, words = WORDS[field]
        return row[column] == words[value]
    if field == "DateTimeOriginal":
        return row["captured_at"].replace(microsecond=0) == datetime.strptime(value, "%Y:%m:%d %H:%M:%S")
    if field == "SubSecTimeOriginal":  # the reference drops leading zeros of the text
        return f"{row['captured_at'].microsecond:06}".rstrip("0") == str(value).rstrip("0")
    if field == "OffsetTimeOriginal":
        hours, minutes = value[1:].split(":")
        return row["utc_offset_min"] == (-1 if value[0] == "-" else 1) * (int(hours) * 60 + int(minutes))
    if field == "LensInfo":
        low, high = (float(part) for part in value.split()[:2])
        return (row["lens_focal_min_mm"], row["lens_focal_max_mm"]) == (
            pytest.approx(low),
            pytest.approx(high),
        )
    if field == "GPSLatitude":
        return row["gps_present"] is True
    return None


def test_crw_files_by_their_own_records(found: Scan) -> None:
    rows = found.frames.set_index("frame").loc[[f"raw_crw_CC0/CRW_{n}" for n in ("0101", "0117", "0304")]]
    assert list(rows["model"]) == ["Canon PowerShot S40", "Canon PowerShot S40", "Canon PowerShot G2"]
    assert list(rows["width_px"]) == [2272] * 3
    assert list(rows["iso"]) == [50] * 3
    assert rows["ev100"].round(1).tolist() == [10.8, 6.1, 10.6]
    assert rows["thumbnail_jpeg"].notna().all()


def test_hostile_files_end_in_rows(hostile: Path, capfd, caplog) -> None:
    start = time.process_time()
    found = scan(hostile)
    assert time.process_time() - start < 30
    assert capfd.readouterr() == ("", "")
    assert caplog.records == []
    assert sum(len(files) for files in found.frames["files"]) + len(found.passed_over) == found.files_seen
    assert len(found.frames) == 25
    values = found.frames[["model", "captured_at", "exposure_time_s", "f_number", "iso"]].notna().any(axis=1)
    for row, told in zip(found.frames.to_dict("records"), values, strict=True):
        assert told or isinstance(row["problem"], str) or row["notes"], row["frame"]
    words = " ".join(
        str(v) for row in found.frames.to_dict("records") for v in (row["make"], row["model"], row["lens"])
    )
    assert not any(ord(c) < 32 for c in words)
    assert pd.isna(found.frames.set_index("frame").loc["00_baseline", "problem"])
