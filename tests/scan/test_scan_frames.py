from __future__ import annotations

from math import log2
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from camera_files import THUMBNAIL, block, camera, cr3, crw, jpeg, put, ratio, raw, short, text, tiff, whole

from audit.scan import scan


def raw_file(**frame: object) -> bytes:
    """A CR3 of the usual frame."""
    first, exif = camera(**frame)
    return cr3(tiff(first), tiff(exif))


def frames(dump: Path) -> pd.DataFrame:
    return scan(dump).frames


def test_raw_and_jpeg_of_one_folder_are_one_frame(dump: Path) -> None:
    put(dump, "100BRAT/TARN0101.CR3", raw_file())
    put(dump, "100BRAT/tarn0101.jpg", jpeg(block()))
    put(dump, "100BRAT/TARN0101.XMP", b"")
    row = frames(dump).iloc[0]
    assert len(frames(dump)) == 1
    assert row["files"] == ["100BRAT/tarn0101.jpg", "100BRAT/TARN0101.CR3"]
    assert row["frame"] == "100BRAT/tarn0101"
    assert row["formats"] == "JPEG+CR3"
    assert row["copies"] == []
    assert row["counter"] == 101
    assert row["size_bytes"] == (dump / "100BRAT/tarn0101.jpg").stat().st_size


def test_values_come_from_the_jpeg_and_gaps_are_filled_from_the_raw(dump: Path) -> None:
    stripped = block(serial=None, without=(0x8827, 0xA434), more={0x829A: ratio((1, 120))})
    put(dump, "TARN0101.JPG", jpeg(stripped))
    put(dump, "TARN0101.CR3", raw_file(offset="+02:00", sub_second="25"))
    row = frames(dump).iloc[0]
    assert row["exposure_time_ratio"] == "1/120"  # not the raw's 1/125
    assert (row["iso"], row["iso_source"]) == (100, "PhotographicSensitivity")
    assert (row["lens"], row["body_serial"]) == ("Sund 16-35 mm f4", "3001234")
    assert row["ev100"] == pytest.approx(7 + log2(120))  # f/11.31 at 1/120 s, from values of both files
    assert pd.isna(row["utc_offset_min"])  # the two times are not the same, so the zone is not taken over


def test_a_zone_is_taken_over_where_the_times_are_the_same(dump: Path) -> None:
    put(dump, "TARN0101.JPG", jpeg(block()))
    put(dump, "TARN0101.CR3", raw_file(offset="-03:30"))
    assert frames(dump)["utc_offset_min"].tolist() == [-210]


def test_a_damaged_jpeg_beside_a_good_raw(dump: Path) -> None:
    put(dump, "TARN0101.JPG", b"\xff\xd8")
    put(dump, "TARN0101.CR3", raw_file())
    row = frames(dump).iloc[0]
    assert row["files"] == ["TARN0101.CR3", "TARN0101.JPG"]
    assert pd.isna(row["problem"])
    assert row["notes"] == ["TARN0101.JPG could not be read: the file holds no EXIF"]
    assert row["model"] == "Brattholm Tarn"


def test_a_dng_and_a_developed_tiff_join_their_raw(dump: Path) -> None:
    first, exif = camera()
    for name in ("TARN0101.TIF", "TARN0101.DNG"):
        put(dump, name, tiff(first, exif))
    put(dump, "TARN0101.CR3", raw_file())
    assert frames(dump)["files"].tolist() == [["TARN0101.TIF", "TARN0101.CR3", "TARN0101.DNG"]]
    assert frames(dump)["formats"].tolist() == ["TIFF+CR3+DNG"]


def test_one_name_two_cameras_are_two_frames(dump: Path) -> None:
    put(dump, "TARN0101.CR3", raw_file(serial="1"))
    put(dump, "TARN0101.JPG", jpeg(block(serial="2")))
    table = frames(dump)
    assert list(table["frame"]) == ["TARN0101.CR3", "TARN0101.JPG"]
    assert all("a frame of its own" in " ".join(notes) for notes in table["notes"])


def test_one_name_two_times_are_two_frames(dump: Path) -> None:
    put(dump, "TARN0101.CR3", raw_file())
    put(dump, "TARN0101.JPG", jpeg(block(time="2026:06:02 05:10:00")))
    assert len(frames(dump)) == 2


def test_similar_names_stay_apart(dump: Path) -> None:
    put(dump, "IMG_1.jpg", jpeg(block()))
    put(dump, "IMG_1 (2).jpg", jpeg(block()))
    put(dump, "IMG_1-Edit.jpg", jpeg(block()))
    table = frames(dump).set_index("frame")
    assert set(table.index) == {"IMG_1", "IMG_1 (2)", "IMG_1-Edit"}
    assert table["counter"].dropna().to_dict() == {"IMG_1": 1}


def test_two_jpegs_of_one_name_without_a_time_are_not_taken_for_copies(dump: Path) -> None:
    put(dump, "plain.jpg", jpeg(None))
    put(dump, "plain.jpeg", jpeg(None))
    assert list(frames(dump)["frame"]) == ["plain.jpeg", "plain.jpg"]


def test_two_slots_raw_on_one_card_jpeg_on_the_other(dump: Path) -> None:
    put(dump, "card 1/DCIM/100BRAT/TARN0101.CR3", raw_file(sub_second="10"))
    put(dump, "card 1/DCIM/100BRAT/TARN0102.CR3", raw_file(time="2026:05:02 05:10:01", sub_second="10"))
    put(dump, "card 2/DCIM/100BRAT/TARN0101.JPG", jpeg(block(sub_second="10")))
    put(dump, "card 2/DCIM/100BRAT/TARN0102.JPG", jpeg(block(time="2026:05:02 05:10:01", sub_second="10")))
    table = frames(dump)
    assert table["files"].tolist() == [
        ["card 2/DCIM/100BRAT/TARN0101.JPG", "card 1/DCIM/100BRAT/TARN0101.CR3"],
        ["card 2/DCIM/100BRAT/TARN0102.JPG", "card 1/DCIM/100BRAT/TARN0102.CR3"],
    ]
    assert table["copies"].tolist() == [[], []]
    assert set(table["folder"]) == {"card 2/DCIM/100BRAT"}


def test_a_mirrored_card_gives_copies(dump: Path) -> None:
    for card in ("card 1", "card 2"):
        put(dump, f"{card}/TARN0101.JPG", jpeg(block()))
        put(dump, f"{card}/TARN0101.CR3", raw_file())
    row = frames(dump).iloc[0]
    assert len(frames(dump)) == 1
    assert row["files"] == [
        *("card 1/TARN0101.JPG", "card 2/TARN0101.JPG", "card 1/TARN0101.CR3", "card 2/TARN0101.CR3"),
    ]
    assert row["copies"] == ["card 2/TARN0101.JPG", "card 2/TARN0101.CR3"]
    assert row["formats"] == "JPEG+CR3"
    assert row["notes"] == []


def test_differences_of_a_copy_are_named(dump: Path) -> None:
    put(dump, "card 1/TARN0101.JPG", jpeg(block()))
    put(dump, "card 2/TARN0101.JPG", jpeg(block(more={0x8827: short(200)})) + b"\0\0")
    put(dump, "card 1/TARN0102.JPG", jpeg(block(time="2026:05:02 05:11:00"), before=b""))
    put(dump, "card 2/TARN0102.JPG", jpeg(block(time="2026:05:02 05:11:00", image={0x131: text("v2")})))
    first, second = frames(dump)["notes"]
    size = (dump / "card 1/TARN0101.JPG").stat().st_size
    assert first == [
        "copy card 2/TARN0101.JPG differs from card 1/TARN0101.JPG: "
        f"size_bytes {size + 2} against {size}; iso 200.0 against 100.0"
    ]
    assert len(second) == 1
    assert "size_bytes" in second[0]


def test_a_copy_with_other_bytes_of_the_same_length(dump: Path) -> None:
    put(dump, "card 1/TARN0101.JPG", jpeg(block()) + b"\1")
    put(dump, "card 2/TARN0101.JPG", jpeg(block()) + b"\2")
    assert frames(dump)["notes"].tolist()[0][0].endswith("the first 64 KiB are not the same")


def test_the_larger_picture_stands_for_a_smaller_copy(dump: Path) -> None:
    put(dump, "a small/TARN0101.JPG", jpeg(block(), size=(300, 200)))
    put(dump, "big/TARN0101.JPG", jpeg(block(), size=(6000, 4000)))
    row = frames(dump).iloc[0]
    assert row["files"] == ["big/TARN0101.JPG", "a small/TARN0101.JPG"]
    assert "width_px 300 against 6000" in row["notes"][0]


@pytest.mark.parametrize(
    "other",
    [
        {"serial": "3009999"},
        {"model": "Brattholm Ness"},
        {"time": "2026:05:02 05:10:02"},
        {"sub_second": "90"},
        {"more": {0x829A: ratio((1, 100))}},
        {"more": {0x829D: ratio((8, 1))}},
    ],
)
def test_frames_of_two_bodies_times_or_settings_are_never_joined(dump: Path, other: dict[str, Any]) -> None:
    put(dump, "A/TARN0101.JPG", jpeg(block(sub_second="10")))
    put(dump, "B/TARN0101.JPG", jpeg(block(**{"sub_second": "10", **other})))
    assert len(frames(dump)) == 2


def test_counter_wrap_keeps_equal_counters_apart(dump: Path) -> None:
    put(dump, "100BRAT/TARN9999.JPG", jpeg(block(time="2026:05:02 05:10:00")))
    put(dump, "100BRAT/TARN0001.JPG", jpeg(block(time="2026:03:01 05:10:00")))
    put(dump, "101BRAT/TARN0001.JPG", jpeg(block(time="2026:05:02 05:10:01")))
    table = frames(dump)
    assert list(table["frame"]) == ["100BRAT/TARN0001", "100BRAT/TARN9999", "101BRAT/TARN0001"]
    assert table["counter"].tolist() == [1, 9999, 1]


def test_a_crw_takes_the_exif_of_its_thm(dump: Path) -> None:
    put(dump, "CRW_0101.CRW", crw())
    small = {0xA002: whole(160), 0xA003: whole(120), 0xA20E: ratio((2272, 1)), 0xA20F: ratio((1704, 1))}
    put(dump, "crw_0101.thm", jpeg(block(thumbnail=THUMBNAIL, more=small), size=(160, 120)))
    put(dump, "CRW_0102.THM", jpeg(block()))
    found = scan(dump)
    row = found.frames.iloc[0]
    assert row["files"] == ["CRW_0101.CRW", "crw_0101.thm"]
    assert row["formats"] == "CRW"
    assert (row["model"], row["iso"], row["f_number"]) == ("Brattholm Tarn", 100, 11)
    assert (row["width_px"], row["height_px"]) == (2272, 1704)  # the picture's, not the thumbnail's
    assert pd.isna(row["focal_plane_width_mm"])
    assert row["thumbnail_jpeg"] == THUMBNAIL
    assert row["notes"] == []
    assert found.passed_over["path"].tolist() == ["CRW_0102.THM"]
    assert sum(len(files) for files in found.frames["files"]) + len(found.passed_over) == found.files_seen


def test_a_crw_with_its_thm_and_a_jpeg(dump: Path) -> None:
    put(dump, "CRW_0101.CRW", crw())
    put(dump, "CRW_0101.THM", jpeg(block()))
    put(dump, "CRW_0101.JPG", jpeg(block()))
    assert frames(dump)["files"].tolist() == [["CRW_0101.JPG", "CRW_0101.CRW", "CRW_0101.THM"]]


def test_a_damaged_thm_leaves_the_crws_own_values(dump: Path) -> None:
    put(dump, "CRW_0101.CRW", crw())
    put(dump, "CRW_0101.THM", raw(b"x")[1][0])
    row = frames(dump).iloc[0]
    assert row["model"] == "Brattholm C3"
    assert row["notes"][0].startswith("CRW_0101.THM could not be read")


@pytest.mark.parametrize(
    ("name", "counter"), [("P1009999", 9999), ("DSC00012", 12), ("IMG_20260502_101500", 101500)]
)
def test_the_counter_is_the_last_four_digits_of_a_name_of_eight(dump: Path, name: str, counter: int) -> None:
    put(dump, f"{name}.JPG", jpeg(block()))
    assert frames(dump)["counter"].tolist() == [counter]
