"""ISO speed, lens and serial number that stand only in the maker's own notes."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import pytest
from camera_files import jpeg, put, ratio, raw, short, text, whole
from notes_files import from_its_start, from_the_block, noted, with_own_header

from audit.kit.gear import add_gear
from audit.kit.kit import Kit
from audit.scan import maker_notes, reader, scan

ISO, LENS, SERIAL, LENS_RANGE = 0x8827, 0xA434, 0xA431, 0xA432
LACKING = (ISO, LENS, SERIAL)
N_NOTE = {
    0x0002: short(0, 400),
    0x001D: text("NO= 2004711"),
    0x0084: ratio((17, 1), (35, 1), (28, 10), (28, 10)),
}


def row(dump: Path, block: bytes) -> dict[str, Any]:
    put(dump, "TARN0001.JPG", jpeg(block))
    return scan(dump).frames.to_dict("records")[0]


def test_notes_with_a_header_of_their_own(dump: Path) -> None:
    note = with_own_header(N_NOTE, "<")
    found = row(dump, noted("NIKON CORPORATION", note, without=LACKING))
    assert (found["iso"], found["iso_source"]) == (400, "MakerNote ISOSetting")
    assert (found["lens"], found["lens_from"]) == ("17-35 mm f/2.8", "MakerNote LensMinMaxFocalMaxAperture")
    assert (found["lens_focal_min_mm"], found["lens_focal_max_mm"]) == (17, 35)
    assert (found["body_serial"], found["serial_from"]) == ("2004711", "MakerNote SerialNumber")
    assert found["ev100"] == pytest.approx(11.9, abs=0.1)  # f/11, 1/125 s, ISO 400
    assert found["notes"] == []


def test_notes_whose_places_count_from_the_block(dump: Path) -> None:
    shot = short(0, 32, 160)  # a length that is not read, automatic gain and base speed in 1/32 stop
    tags = {0x0004: shot, 0x000C: whole(1234567890), 0x0095: text("EF 24mm f/2.8")}
    found = row(dump, from_the_block("Canon", tags, without=LACKING))
    assert (found["iso"], found["iso_source"]) == (200, "MakerNote BaseISO")
    assert (found["lens"], found["lens_from"]) == ("EF 24mm f/2.8", "MakerNote LensModel")
    assert (found["body_serial"], found["serial_from"]) == ("1234567890", "MakerNote SerialNumber")


def test_a_speed_that_is_named(dump: Path) -> None:
    found = row(dump, from_the_block("Canon", {0x0001: short(*([0] * 16), 18)}, without=LACKING))
    assert (found["iso"], found["iso_source"]) == (200, "MakerNote ISO")


def test_notes_whose_places_count_from_their_start(dump: Path) -> None:
    found = row(dump, noted("FUJIFILM", from_its_start({0x0010: text("FC A1234 0711")}), without=LACKING))
    assert (found["body_serial"], found["serial_from"]) == ("FC A1234 0711", "MakerNote InternalSerialNumber")


def test_notes_behind_a_label(dump: Path) -> None:
    tags = {0x0404: text("108479926")}
    found = row(dump, from_the_block("OLYMPUS OPTICAL CO.,LTD", tags, b"OLYMP\0\1\0", without=LACKING))
    assert (found["body_serial"], found["serial_from"]) == ("108479926", "MakerNote SerialNumber")


def test_standard_tags_come_first(dump: Path) -> None:
    found = row(dump, noted("NIKON", with_own_header(N_NOTE, "<"), without=(ISO,)))
    assert (found["iso"], found["iso_source"]) == (400, "MakerNote ISOSetting")
    assert (found["lens"], found["lens_from"]) == ("Sund 16-35 mm f4", "LensModel")
    assert (found["body_serial"], found["serial_from"]) == ("3001234", "BodySerialNumber")


@pytest.mark.parametrize(("make", "without"), [("NIKON", ()), ("Brattholm", LACKING), ("SONY", LACKING)])
def test_nothing_is_read_twice_where_nothing_lacks_or_the_maker_is_unknown(
    dump: Path, monkeypatch: pytest.MonkeyPatch, make: str, without: tuple[int, ...]
) -> None:
    monkeypatch.setattr(reader, "add_from_notes", lambda *_: pytest.fail("read again"))
    found = row(dump, noted(make, with_own_header(N_NOTE, "<"), without=without))
    assert not isinstance(found["problem"], str)


@pytest.mark.parametrize(
    "note",
    [
        b"",
        b"Nikon\0\2",
        b"Nikon\0\2\x10\0\0II*\0\x08\0\0\0\xff\xff" + bytes(20),
        b"\xff" * 4000,
        with_own_header({0x0002: short(0, 0), 0x001D: text("0000"), 0x0084: ratio(*[(0, 0)] * 4)}, "<"),
        with_own_header({0x0002: text("x"), 0x001D: raw(b"\0\1"), 0x0084: short(1)}, "<"),
    ],
)
def test_notes_that_say_nothing_or_are_damaged_leave_the_rest(dump: Path, note: bytes) -> None:
    found = row(dump, noted("NIKON", note, without=(LENS, SERIAL)))
    assert found["iso"] == 100
    assert not isinstance(found["problem"], str)
    assert not isinstance(found["lens"], str)
    assert found["notes"] == []


def test_notes_that_take_too_long_are_given_up(dump: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def endless(*_: Any) -> None:
        while True:
            pass

    monkeypatch.setattr(maker_notes._Notes, "decode_maker_note", endless)
    started = time.process_time()
    found = row(dump, noted("NIKON", with_own_header(N_NOTE, "<"), without=(SERIAL,)))
    assert time.process_time() - started < 1
    assert found["iso"] == 100
    assert not isinstance(found["problem"], str)


def test_a_number_from_notes_does_not_part_two_files_of_one_exposure(dump: Path) -> None:
    put(dump, "TARN0001.JPG", jpeg(noted("NIKON", with_own_header(N_NOTE, "<"), without=(SERIAL,))))
    put(dump, "TARN0001.NEF", noted("NIKON", b"", serial="0002004711"))
    frames = scan(dump).frames
    assert frames["formats"].tolist() == ["JPEG+NEF"]


def test_a_kit_that_writes_them_otherwise_still_fits(dump: Path) -> None:
    put(dump, "TARN0001.JPG", jpeg(noted("NIKON", with_own_header(N_NOTE, "<"), without=LACKING)))
    kit = Kit.model_validate(
        {
            "body": [{"name": "mine", "model": "Brattholm Tarn", "serial": "471-1"}],
            "lens": [
                {"id": "w17", "focal_mm": [17, 35], "thread_mm": 77, "exif": ["AF-S 17-35"]},
                {"id": "t70", "focal_mm": [70, 200], "thread_mm": 77, "exif": ["AF-S 70-200"]},
            ],
        }
    )
    found = add_gear(scan(dump).frames, kit).iloc[0]
    assert (found["body"], found["lens_id"], found["lens_source"]) == ("mine", "w17", "assumed")


def test_real_files(photos: Path) -> None:
    frames = scan(photos).frames.set_index("frame")
    told = frames[frames["iso_source"].str.startswith("MakerNote").fillna(False)]
    assert len(told) >= 7
    assert told["iso"].between(40, 400).all()
    d1x = frames.loc["snaps_metadata-extractor_free/Nikon_D1X"]
    assert (d1x["iso"], d1x["lens"]) == (200, "17-35 mm f/2.8")
    assert frames.loc["formats/nef_Issue_247-1", "body_serial"] == "1005a431"
