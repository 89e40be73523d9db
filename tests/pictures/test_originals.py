"""Photographs opened once more: where views and cuts come from, and why there are none."""

from __future__ import annotations

import hashlib
import io
import shutil
from pathlib import Path
from typing import Any

import pytest
from marked import HELD, colour_at, held, jpeg, photograph
from PIL import Image

from audit.pictures.originals import seen
from audit.scan import scan

HOSTILE = Path(__file__).parents[2].parent / "shared" / "hostile"


def only_row(dump: Path) -> dict[str, Any]:
    (row,) = scan(dump).frames.to_dict("records")
    return {str(name): value for name, value in row.items()}


def raf(embedded: bytes) -> bytes:
    """A raw file that embeds a JPEG."""
    head = b"FUJIFILMCCD-RAW 0201FF000000Brattholm R".ljust(84, b"\0")
    places = (160).to_bytes(4, "big") + len(embedded).to_bytes(4, "big")
    return head + places + bytes(68) + embedded + bytes(200)


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_corners_of_a_file_are_the_right_ones(tmp_path: Path, orientation: int) -> None:
    photograph(tmp_path / "a.jpg", orientation)
    made = seen(tmp_path, only_row(tmp_path), full=True)
    assert [colour_at(cut.jpeg, n % 2, n // 2) for n, cut in enumerate(made.corners)] == list(HELD)
    assert made.full_px == (900, 600) and made.file == "a.jpg" and not made.why_no_cuts
    assert made.larger is not None and (made.larger.width_px, made.larger.height_px) == (900, 600)
    assert [colour_at(made.larger.jpeg, n % 2, n // 2) for n in range(4)] == list(HELD)


@pytest.mark.parametrize("orientation", [1, 6])
def test_the_larger_view_alone_is_a_reduced_decode(tmp_path: Path, orientation: int) -> None:
    photograph(tmp_path / "a.jpg", orientation, (3000, 2000))
    made = seen(tmp_path, only_row(tmp_path))
    assert made.corners == () and made.middle is None
    assert made.larger is not None and (made.larger.width_px, made.larger.height_px) == (1080, 720)
    assert [colour_at(made.larger.jpeg, n % 2, n // 2) for n in range(4)] == list(HELD)


def test_a_raw_is_cut_from_its_preview_of_full_size(tmp_path: Path) -> None:
    (tmp_path / "a.raf").write_bytes(raf(jpeg(held((1800, 1200)), 1)))
    row = only_row(tmp_path) | {"width_px": 1820, "height_px": 1214}
    made = seen(tmp_path, row, full=True)
    assert [colour_at(cut.jpeg, n % 2, n // 2) for n, cut in enumerate(made.corners)] == list(HELD)
    assert made.full_px == (1800, 1200)


def test_a_raw_without_one_has_its_view_and_says_why_nothing_is_cut(tmp_path: Path) -> None:
    (tmp_path / "a.raf").write_bytes(raf(jpeg(held((1200, 800)), 1)))
    row = only_row(tmp_path) | {"width_px": 6000, "height_px": 4000}
    made = seen(tmp_path, row, full=True)
    assert made.larger is not None and made.corners == ()
    assert "1,200 x 800 px" in made.why_no_cuts or "1200 x 800 px" in made.why_no_cuts


def test_a_raw_with_a_jpeg_beside_it_is_cut_from_that(tmp_path: Path) -> None:
    row = {"frame": "a", "files": ["a.dng", "a.jpg"], "orientation": 6, "width_px": 600, "height_px": 900}
    (tmp_path / "a.dng").write_bytes(b"II*\0" + bytes(400))
    photograph(tmp_path / "a.jpg", 6)
    made = seen(tmp_path, row, full=True)
    assert made.file == "a.jpg" and [colour_at(c.jpeg, 0.5, 0.5) for c in made.corners] != []


def test_deep_tiffs_say_why(tmp_path: Path) -> None:
    Image.new("I;16", (400, 300)).save(tmp_path / "a.tif")
    row = {"frame": "a", "files": ["a.tif"], "orientation": 1, "width_px": 400, "height_px": 300}
    made = seen(tmp_path, row, full=True)
    assert made.larger is None and "8 bits" in made.why and "8 bits" in made.why_no_cuts


def test_a_turned_tiff_is_turned_once(tmp_path: Path) -> None:
    out = io.BytesIO()
    tags = Image.Exif()
    tags[0x0112] = 6
    held((900, 600)).transpose(Image.Transpose.ROTATE_90).save(out, "TIFF", exif=tags)
    (tmp_path / "a.tif").write_bytes(out.getvalue())
    row = {"frame": "a", "files": ["a.tif"], "orientation": 6, "width_px": 600, "height_px": 900}
    made = seen(tmp_path, row, full=True)
    assert [colour_at(cut.jpeg, n % 2, n // 2) for n, cut in enumerate(made.corners)] == list(HELD)


def test_missing_and_damaged_files_stop_nothing(tmp_path: Path) -> None:
    whole = jpeg(held())
    for name, data in (
        ("cut.jpg", whole[: len(whole) // 3]),
        ("empty.jpg", b""),
        ("text.jpg", b"no picture"),
    ):
        (tmp_path / name).write_bytes(data)
    for name in ("cut.jpg", "empty.jpg", "text.jpg", "gone.jpg", "folder.jpg"):
        (tmp_path / "folder.jpg").mkdir(exist_ok=True)
        made = seen(tmp_path, {"frame": name, "files": [name], "orientation": 1}, full=True)
        assert made.corners == () and made.why_no_cuts, name


def test_hostile_files_stop_nothing_and_stay_as_they_are(tmp_path: Path) -> None:
    if not HOSTILE.is_dir():
        pytest.skip(f"real test files are not here: {HOSTILE}")
    dump = tmp_path / "dump"
    shutil.copytree(HOSTILE, dump)
    before = {f.name: hashlib.sha256(f.read_bytes()).digest() for f in dump.iterdir()}
    for file in sorted(dump.iterdir()):
        for orientation in (1, 6, 9):
            row = {"frame": file.name, "files": [file.name], "orientation": orientation}
            made = seen(dump, row, full=True)
            assert made.larger is not None or made.why
    assert {f.name: hashlib.sha256(f.read_bytes()).digest() for f in dump.iterdir()} == before
