"""Rows of `read_file` as bytes: the same row comes back, and from other bytes none, or a sound one."""

from __future__ import annotations

import random
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from camera_files import THUMBNAIL, block

from audit.crew import wire
from audit.message.text import Text, figure, joined, made_of, marked, plural, say
from audit.scan.note import Note, about
from audit.scan.reader import plain, read_file
from audit.scan.row_data import packed, unpacked

SHARED = Path(__file__).parents[2].parent / "shared"
FOLDERS = [SHARED / "photos", SHARED / "hostile"]


def whole(value: object) -> object:
    """A value with what its sentences are made of; a plain str equals any Text of its words."""
    if isinstance(value, list):
        return [whole(one) for one in value]
    return type(value).__name__, repr(value), made_of(value) if isinstance(value, str) else None


def alike(a: dict, b: dict) -> bool:
    return list(a) == list(b) and all(whole(a[k]) == whole(b[k]) for k in a)


ROW = {
    "formats": "JPEG",
    "problem": say("{picture}: not decoded within {seconds:g} s of work", picture="a\ud800.jpg", seconds=1.5),
    "notes": [
        "plain",
        Note(say("{what} is written as {value_written}", what=marked("ISO"), value_written="x"), "damage"),
        joined([figure("1.5"), plural(2, "{n} frame", "{n} frames"), "end"]),
        Text("a phrase"),
    ],
    "iso": 100.0,
    "width_px": 6000,
    "gps_present": True,
    "captured_at": datetime(2026, 5, 2, 10, 0, 0, 120_000),
    "thumbnail_jpeg": THUMBNAIL,
    "lens": None,
}


def test_the_same_row_comes_back_with_what_its_sentences_are_made_of():
    back = unpacked(packed(ROW))
    assert back is not None and alike(back, ROW)
    assert [about(note) for note in back["notes"]] == ["", "damage", "", ""]


def test_a_file_as_it_is_read(tmp_path):
    (tmp_path / "a.jpg").write_bytes(
        b"\xff\xd8\xff\xe1" + (len(block()) + 8).to_bytes(2, "big") + b"Exif\0\0" + block()
    )
    for name in ("a.jpg", "missing.jpg"):
        row = read_file(tmp_path / name)
        assert alike(unpacked(packed(row)) or {}, row)


@pytest.mark.skipif(not FOLDERS[0].is_dir(), reason="the material beside the project is not there")
def test_every_real_file():
    files = [path for folder in FOLDERS for path in folder.rglob("*") if path.is_file()]
    files = [path for path in files if "5400_tags" not in path.name]  # ten seconds, as test_scan_limits does
    for path in files:
        row = read_file(path)
        assert alike(unpacked(packed(row)) or {}, row), path
    assert len(files) > 100


@pytest.mark.parametrize(
    "change",
    [
        {"problem": 1},
        {"notes": None},
        {"notes": [1]},
        {"notes": ["a"]},
        {"notes": [["a", "unheard of"]]},
        {"notes": "a"},
        {"iso": "100"},
        {"iso": True},
        {"width_px": True},
        {"width_px": 1.5},
        {"captured_at": "2026"},
        {"thumbnail_jpeg": "a"},
        {"unheard_of": 1},
    ],
)
def test_what_is_no_row_is_none(change):
    sent = plain(ROW)
    assert unpacked(wire.packed(sent)) is not None
    assert unpacked(wire.packed(sent | change)) is None
    del sent["notes"]
    assert unpacked(wire.packed(sent)) is None


def test_what_a_row_never_holds_is_refused():
    with pytest.raises(TypeError):
        packed(ROW | {"iso": {1, 2}})


def test_damaged_bytes_raise_nothing():
    rng, sound = random.Random(1), packed(ROW)
    for _ in range(2000):
        data = bytearray(sound)
        for _ in range(rng.randint(1, 4)):
            data[rng.randrange(len(data))] = rng.randrange(256)
        back = unpacked(bytes(data[: rng.randint(0, len(data))] if rng.random() < 0.3 else data))
        assert back is None or (isinstance(back["notes"], list) and packed(back))
    for data in (b"", b"\0", b"\xc0", b"\x90", b"\x91" * 100_000):
        assert unpacked(data) is None
    assert unpacked(packed({"formats": "JPEG", "problem": None, "notes": [], "iso": np.float64(100)}))
