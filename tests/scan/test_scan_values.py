from __future__ import annotations

import math
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from camera_files import THUMBNAIL, block, jpeg, put, ratio, raw, real, short, signed, text, whole
from hypothesis import given
from hypothesis import strategies as st
from marking import marking, untold_words

from audit.checks import impossible_values
from audit.scan.note import about
from audit.scan.reader import read_file
from audit.scan.tags import in_range


@pytest.fixture
def read(tmp_path: Path):
    def read_one(size: tuple[int, int] = (600, 400), **frame: Any) -> dict[str, Any]:
        return read_file(put(tmp_path, "TARN0101.JPG", jpeg(block(**frame), size)))

    return read_one


def test_a_usual_frame(read) -> None:
    more = {
        0x8822: short(3),
        0x9204: signed((-2, 3)),
        0x9207: short(5),
        0x9209: short(16),
        0xA402: short(2),
        0xA403: short(1),
        0xA405: short(24),
        0x9206: ratio((250, 100)),
        0xA002: whole(600),
        0xA003: whole(400),
        0xA20E: ratio((1000, 60)),
        0xA20F: ratio((1000, 60)),
        0xA210: short(4),
        0xA432: ratio((16, 1), (35, 1), (4, 1), (4, 1)),
        0xA435: text("L-77"),
    }
    row = read(sub_second="25", offset="+02:00", thumbnail=THUMBNAIL, more=more)
    expected = {
        "make": "Brattholm",
        "model": "Brattholm Tarn",
        "body_serial": "3001234",
        "lens": "Sund 16-35 mm f4",
        "lens_serial": "L-77",
        "lens_focal_min_mm": 16,
        "lens_focal_max_mm": 35,
        "captured_at": datetime(2026, 5, 2, 5, 10, 0, 250_000),
        "utc_offset_min": 120,
        "exposure_time_s": 1 / 125,
        "exposure_time_ratio": "1/125",
        "exposure_time_exact_s": 1 / 128,
        "exposure_time_basis": "third",
        "f_number": 11,
        "f_number_exact": math.sqrt(128),
        "f_number_basis": "third",
        "iso": 100,
        "iso_source": "PhotographicSensitivity",
        "ev100": 14,
        "exposure_bias_stops": -2 / 3,
        "exposure_program": "aperture priority",
        "exposure_mode": "auto bracket",
        "metering": "pattern",
        "white_balance": "fixed",
        "flash_fired": False,
        "focal_length_mm": 24,
        "focal_length_35mm": 24,
        "width_px": 600,
        "height_px": 400,
        "orientation": 1,
        "focal_plane_width_mm": 36,
        "focal_plane_height_mm": 24,
        "subject_distance_m": 2.5,
        "gps_present": False,
        "thumbnail_jpeg": THUMBNAIL,
        "problem": None,
        "notes": [],
    }
    for name, value in expected.items():
        assert row[name] == (pytest.approx(value) if isinstance(value, (int, float)) else value), name


def test_long_exposures(read) -> None:
    row = read(more={0x829A: ratio((15, 1))})
    assert (row["exposure_time_s"], row["exposure_time_exact_s"], row["exposure_time_ratio"]) == (
        15,
        16,
        "15",
    )
    row = read(more={0x829A: ratio((2437, 10))})
    assert (row["exposure_time_exact_s"], row["exposure_time_basis"]) == (243.7, "written")
    assert row["exposure_time_ratio"] == "2437/10"


def test_apex_values_where_only_they_exist(read) -> None:
    more = {0x9201: signed((59069, 10000)), 0x9202: ratio((6918, 1000))}
    row = read(without=(0x829A, 0x829D), more=more)
    assert row["exposure_time_basis"] == row["f_number_basis"] == "apex"
    assert row["exposure_time_exact_s"] == 1 / 64
    assert row["f_number_exact"] == pytest.approx(math.sqrt(128))
    assert row.get("exposure_time_ratio") is None
    assert row["ev100"] == pytest.approx(13)
    assert row["notes"] == []


@pytest.mark.parametrize(
    ("tv", "said"), [((7, 1), False), ((69658, 10000), False), ((8, 1), True), ((0, 1), False)]
)
def test_apex_beside_direct_values(read, tv: tuple[int, int], said: bool) -> None:
    row = read(more={0x9201: signed(tv)})
    assert row["exposure_time_ratio"] == "1/125"
    assert bool(row["notes"]) is said


@pytest.mark.parametrize(
    ("more", "iso", "source"),
    [
        (
            {0x8827: short(65535), 0x8830: short(2), 0x8832: whole(102_400)},
            102_400,
            "RecommendedExposureIndex",
        ),
        (
            {0x8827: short(65535), 0x8830: short(1), 0x8831: whole(80_000)},
            80_000,
            "StandardOutputSensitivity",
        ),
        (
            {0x8827: short(65535), 0x8830: short(3), 0x8833: whole(204_800), 0x8832: whole(9)},
            204_800,
            "ISOSpeed",
        ),
        ({0x8827: short(65535), 0x8832: whole(102_400)}, 102_400, "RecommendedExposureIndex"),
        ({0x8827: short(65535)}, None, None),
        ({0x8827: short(0)}, None, None),
        ({0x8827: short(0), 0x8830: short(1), 0x8831: whole(125)}, 125, "StandardOutputSensitivity"),
    ],
)
def test_iso(read, more, iso: float | None, source: str | None) -> None:
    row = read(more=more)
    assert (row.get("iso"), row.get("iso_source")) == (iso, source)
    assert (row["ev100"] is None) == (iso is None)
    if more[0x8827] == short(65535) or iso is None:
        assert "ISO" in row["notes"][0]


@pytest.mark.parametrize(
    ("more", "name", "note"),
    [
        (
            {0x829A: ratio((1, 0))},
            "exposure_time_s",
            "exposure time is written as 1/0: not possible, left out",
        ),
        ({0x829A: ratio((0, 1))}, "exposure_time_s", "exposure time is written as 0 s: left out"),
        ({0x829A: ratio((4_000_000_000, 1))}, "exposure_time_s", "not possible"),
        ({0x829D: ratio((0, 0))}, "f_number", "f-number is written as 0/0: not possible, left out"),
        ({0x829D: ratio((65535, 1))}, "f_number", "f-number is written as 65535: not possible, left out"),
        ({0x920A: ratio((4294967295, 1))}, "focal_length_mm", "focal length is written as 4294967295"),
        ({0x9204: signed((-2147483648, 1))}, "exposure_bias_stops", "exposure bias"),
        ({0x9206: ratio((4294967295, 1))}, "subject_distance_m", "written as infinity, which is no number"),
        ({0xA405: short(65535)}, "focal_length_35mm", "35 mm equivalent"),
        ({0xA20E: ratio((1, 1)), 0xA20F: ratio((1, 1))}, "focal_plane_width_mm", "no possible sensor size"),
    ],
)
def test_what_cannot_be_is_null_with_the_reason(read, more, name: str, note: str) -> None:
    row = read(more=more)
    assert row.get(name) is None
    assert note in " / ".join(row["notes"])
    assert row["problem"] is None


@pytest.mark.parametrize("orientation", [0, 9])
def test_orientation_outside_its_range(read, orientation: int) -> None:
    row = read(image={0x112: short(orientation)})
    assert row["orientation"] is None
    assert row["notes"] == [f"orientation is written as {orientation}: not possible, left out"]


LEFT_OUT = [
    {"more": {0x829A: ratio((1, 0))}},
    {"more": {0x829A: ratio((0, 1))}},
    {"more": {0x829D: ratio((0, 0))}},
    {"more": {0x829D: ratio((0, 1))}},
    {"more": {0x829D: ratio((0, 1)), 0x920A: ratio((0, 1))}},
    {"more": {0x920A: ratio((0, 1))}},
    {"more": {0x8827: short(0)}},
    {"more": {0x8827: short(65535)}},
    {"more": {0xA20E: ratio((1, 1)), 0xA20F: ratio((1, 1))}},
    {"image": {0x112: short(9)}},
    {"time": "0000:00:00 00:00:00"},
    {"time": "2026: 4: 31 at noon"},
    {"offset": "at: noon"},
]
"""Blocks of which a value is left out."""


@pytest.mark.parametrize("wrong", LEFT_OUT, ids=str)
def test_what_was_left_out_can_be_told_in_another_language(read, wrong) -> None:
    row = read(**wrong)
    row["notes_about"] = [about(note) for note in row["notes"]]
    found = list(impossible_values.find(pd.DataFrame([{"frame": "TARN0101", "f_number_basis": None} | row])))
    assert found
    for finding in found:
        assert finding.seen in ("left out", "not possible, left out")
        for words in (finding.cause, finding.seen, finding.expected, finding.sure, finding.advice):
            told = marking().tell(words)
            assert "\u27e6" in told
            assert not untold_words(told, {"ISO", "EXIF", "UTC", "noon"}), told


@pytest.mark.parametrize(
    "more", [{0x9206: ratio((0, 1))}, {0xA405: short(0)}, {0xA432: ratio(*[(0, 0)] * 4)}]
)
def test_exif_words_for_unknown_need_no_note(read, more) -> None:
    assert read(more=more)["notes"] == []


def test_a_lens_without_contacts(read) -> None:
    row = read(more={0x829D: ratio((0, 1)), 0x920A: ratio((0, 1)), 0x9202: ratio((0, 1))})
    assert row.get("f_number") is None
    assert row["focal_length_mm"] is None
    assert row["notes"] == ["f/0 and 0 mm: lens without contacts: left out"]
    assert "lens without contacts" in read(more={0x829D: ratio((0, 10))})["notes"][0]
    assert "lens without contacts" in read(more={0x920A: ratio((0, 10))})["notes"][0]


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        (b"Brattholm Tarn      ", "Brattholm Tarn"),
        (b"  Brattholm Tarn\0\0garbage", "Brattholm Tarn"),
        (b"\0\0\0\0", None),
        (b"      ", None),
        (b"N\x1b[31m6\r\nX", "N\ufffd[31m6\ufffd\ufffdX"),
        ("N\u202e6".encode(), "N\ufffd6"),
        (b"Norrl\xffs", "Norrl\\xffs"),
        ("Brattholm Ø6".encode(), "Brattholm Ø6"),
        (b"N" * 5000, "N" * 200),
    ],
)
def test_text_is_trimmed_and_made_harmless(read, written: bytes, shown: str | None) -> None:
    assert read(image={0x110: text(written)})["model"] == shown


def test_text_written_as_bytes(read) -> None:
    assert read(more={0xA434: raw(b"Sund 50 mm\0\0")})["lens"] == "Sund 50 mm"


@pytest.mark.parametrize(
    ("written", "sub_second", "moment"),
    [
        ("2026:05:02 05:10:00", None, datetime(2026, 5, 2, 5, 10)),
        ("2026-05-02T05:10:00", None, datetime(2026, 5, 2, 5, 10)),
        ("2026:05:02 05:10:00.5", None, datetime(2026, 5, 2, 5, 10, 0, 500_000)),
        ("2026:05:02 05:10:00", "07 ", datetime(2026, 5, 2, 5, 10, 0, 70_000)),
        ("2026:05:02 05:10:00", "12345678", datetime(2026, 5, 2, 5, 10, 0, 123_456)),
        ("2026:05:02 05:10:00", "x", datetime(2026, 5, 2, 5, 10)),
    ],
)
def test_times(read, written: str, sub_second: str | None, moment: datetime) -> None:
    row = read(time=written, sub_second=sub_second)
    assert row["captured_at"] == moment
    assert row["utc_offset_min"] is None
    assert row["notes"] == []


@pytest.mark.parametrize(
    "written",
    [
        *("0000:00:00 00:00:00", "    :  :     :  :  ", "2026:02:30 05:10:00", "2026:05:02 25:10:00"),
        *("1904:01:01 00:00:00", "2189:01:01 00:00:00", "yesterday", "٢٠٢٦:05:02 05:10:00"),
    ],
)
def test_times_that_cannot_be(read, written: str) -> None:
    row = read(time=written)
    assert row.get("captured_at") is None
    assert row["notes"][0].startswith("time of capture is written as")
    assert row["notes"][0].endswith("left out")


def test_a_missing_time_is_not_replaced_by_that_of_the_last_change(read) -> None:
    row = read(time=None, image={0x132: text("2026:06:01 10:00:00")})
    assert row.get("captured_at") is None
    row = read(time=None, more={0x9004: text("2026:05:02 05:10:00")})
    assert row["captured_at"] == datetime(2026, 5, 2, 5, 10)
    assert row["notes"] == ["time of digitising used: no time of capture written"]


@pytest.mark.parametrize(
    ("written", "minutes", "said"),
    [
        *(("+02:00", 120, False), ("-03:30", -210, False), ("Z", 0, False), ("+05:45", 345, False)),
        *(("   :  ", None, False), ("+99:00", None, True), ("CEST", None, True), ("+02:75", None, True)),
    ],
)
def test_offsets(read, written: str, minutes: int | None, said: bool) -> None:
    row = read(offset=written)
    assert row["utc_offset_min"] == minutes
    assert bool(row["notes"]) is said


def test_position_is_only_said_to_be_there(read) -> None:
    place = {
        1: text("N"),
        2: ratio((61, 1), (2, 1), (734512, 1)),
        3: text("E"),
        4: ratio((7, 1), (2, 1), (845623, 1)),
    }
    row = read(gps=place)
    assert row["gps_present"] is True
    assert "734512" not in str(row)
    assert "845623" not in str(row)
    assert read(gps={2: ratio(*[(0, 0)] * 3), 4: ratio(*[(0, 0)] * 3)})["gps_present"] is False
    assert read(gps={1: text("N"), 3: text("E")})["gps_present"] is False


def test_a_resized_picture_is_said_to_be_so(read) -> None:
    size = {0xA002: whole(6000), 0xA003: whole(4000), 0xA20E: ratio((6000, 36)), 0xA20F: ratio((4000, 24))}
    row = read(more=size | {0xA210: short(4)})
    assert (row["width_px"], row["height_px"]) == (600, 400)
    assert row["focal_plane_width_mm"] == pytest.approx(
        36
    )  # from the size that EXIF gives, not the resized one
    assert row["notes"] == ["the picture has 600 x 400 px, EXIF says 6000 x 4000: resized or cropped"]
    turned = {0xA002: whole(400), 0xA003: whole(600)}
    assert read(more=turned)["notes"] == []


def test_codes_outside_the_standard_are_kept_as_numbers(read) -> None:
    row = read(
        more={0x8822: short(9), 0x9207: short(255), 0xA402: short(7), 0xA403: short(4), 0x9209: short(1)}
    )
    assert row["exposure_program"] == "other (9)"
    assert row["metering"] == "other (255)"
    assert row["exposure_mode"] == "other (7)"
    assert row["white_balance"] == "other (4)"
    assert row["flash_fired"] is True


def test_numbers_written_as_floating_point(read) -> None:
    row = read(more={0x829D: real(5.6), 0x920A: real(math.nan), 0x829A: real(math.inf)})
    assert row["f_number"] == pytest.approx(5.6)
    assert row["focal_length_mm"] is None
    assert row.get("exposure_time_s") is None
    assert len(row["notes"]) == 2


@pytest.mark.parametrize("order", ["<", ">"])
def test_both_byte_orders(read, order: str) -> None:
    row = read(order=order, thumbnail=THUMBNAIL)
    assert (row["model"], row["f_number"], row["thumbnail_jpeg"]) == ("Brattholm Tarn", 11, THUMBNAIL)


@pytest.mark.parametrize("thumbnail", [b"no picture at all", b"\xff\xd8" + bytes(1 << 16)])
def test_a_thumbnail_that_is_none_or_too_large_is_left_out(tmp_path: Path, thumbnail: bytes) -> None:
    from camera_files import camera, tiff

    first, exif = camera()
    row = read_file(put(tmp_path, "TARN0101.TIF", tiff(first, exif, thumbnail=thumbnail)))
    assert row["model"] == "Brattholm Tarn"
    assert row["thumbnail_jpeg"] is None


@given(st.fractions(), st.floats(0, 100), st.floats(0, 1e7))
def test_a_range_is_held_exactly(number: Fraction, low: float, high: float) -> None:
    for near in (number, Fraction(low), Fraction(high), Fraction(high) + Fraction(1, 1 << 80)):
        assert in_range(near, low, high) == (low <= near <= high)
