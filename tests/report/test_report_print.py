"""The print desk and the order sheet: sizes, sets, hostile names, and crops on the right pixels."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageOps

from audit.jobs.audit import audit
from audit.report import render, write
from audit.report.orders import HEADER, orders_text
from audit.report.print_jobs import jobs
from audit.report.thumbnails import Thumbnail
from audit.report.view_frames import frame_links
from audit.report.view_print import PrintView, print_view
from audit.result import Result
from audit.scan import scan

CHOSEN = {"kept": "keep.txt", "kept_why": "keep.txt, line 1"}
CROPPED = {"clean_crop": "600, 400, 4800, 3200", "clean_crop_share": 0.64}
MakeTrip = Callable[[list[dict[str, Any]]], Result]
MakeFrame = Callable[..., dict[str, Any]]


def desk(result: Result) -> PrintView:
    return print_view(result, frame_links(result.frames), lambda row: Thumbnail(reason="none"))


def orders(result: Result, folder: Path, *, totals: bool = False) -> list[dict[str, str]]:
    (folder / "orders.csv").write_text(orders_text(result), encoding="utf-8", newline="")
    with (folder / "orders.csv").open(encoding="utf-8", newline="") as file:
        lines = list(csv.DictReader(file))
    return lines if totals else [line for line in lines if line["line"] != "total"]


def plain(words: str) -> str:
    return words.replace("\N{NO-BREAK SPACE}", " ")


def test_sizes_before_and_after_the_clean_crop(make_trip: MakeTrip, make_frame: MakeFrame) -> None:
    (item,) = desk(make_trip([make_frame("TARN0101", **CHOSEN, **CROPPED)])).items
    whole, crop = item.cuts
    assert [plain(row.cm) for row in whole.rows] == ["50.8 × 33.9 cm", "63.5 × 42.3 cm", "84.7 × 56.4 cm"]
    assert plain(whole.rows[0].inches) == "20 × 13.3 in"
    assert plain(whole.rows[0].a_series) == "A3: picture 42 × 28 cm, 363 ppi"
    assert plain(whole.rows[0].photo_cm) == "40 × 50 cm: picture 50 × 33.3 cm, 305 ppi"
    assert plain(whole.rows[0].photo_in) == "16 × 20 in: picture 50.8 × 33.9 cm, 300 ppi"
    assert plain(whole.rows[0].mat_cm) == "40 × 60 cm for prints of 30 × 45 cm"
    assert plain(whole.rows[0].window) == "50.2 × 33.3 cm"  # 6 mm less each way
    assert whole.rows[0].overview == "61 cm, where 143 ppi do"
    assert plain(crop.pixels) == "4800 × 3200 px"
    assert plain(crop.rows[0].cm) == "40.6 × 27.1 cm"
    assert plain(item.largest) == "40.6 × 27.1 cm at 300 ppi by the clean crop"
    assert (whole.shown, crop.shown) == ("", "left 600, top 400, width 4800, height 3200")


def test_from_how_far_pixels_merge(result: Result) -> None:
    assert desk(result).merging == (("300 ppi", "29 cm"), ("240 ppi", "36 cm"), ("180 ppi", "49 cm"))


@pytest.mark.parametrize(
    ("kept", "words"),
    [
        ("keep.txt", "1 picture, chosen in keep.txt."),
        ("rating 4", "1 picture, chosen by the ratings 1 to 5 in XMP sidecars."),
        ("proposed", "1 picture, one for each setup, proposed since nothing was chosen"),
        (None, "Nothing was chosen, and no frame could be proposed"),
    ],
)
def test_how_they_were_chosen_is_said(
    make_trip: MakeTrip, make_frame: MakeFrame, kept: str, words: str
) -> None:
    assert desk(make_trip([make_frame("TARN0101", kept=kept)])).chosen.startswith(words)


def test_members_of_a_set_are_one_print(make_trip: MakeTrip, make_frame: MakeFrame) -> None:
    bracket = {"bracket": "x", "sequence": "bracket", "sequence_of": "x"}
    rows = [make_frame(f"TARN010{n}", n, **bracket, **(CHOSEN if n else {})) for n in range(3)]
    rows += [make_frame("TARN0110", 9, **CHOSEN)]
    first, alone = jobs(make_trip(rows))
    assert (first.kind, first.count, first.size) == ("bracket", 3, (6000, 4000))
    assert first.note == "stands for a bracket of 3 frames"
    assert first.row["frame"].endswith("TARN0101")  # the first that was chosen
    assert (alone.kind, alone.count, alone.note) == ("", 1, "")


def test_the_size_of_a_panorama_is_said_to_be_unknown(
    make_trip: MakeTrip, make_frame: MakeFrame, tmp_path: Path
) -> None:
    pan = {"sequence": "panorama", "sequence_of": "x", **CROPPED}
    trip = make_trip([make_frame(f"TARN010{n}", n, **pan, **CHOSEN) for n in range(5)])
    (item,) = desk(trip).items
    assert item.note == (
        "stands for a panorama of 5 frames; the size of the set is unknown until it is stitched; "
        "one frame is 6000 x 4000 px as stored"
    )
    assert (item.cuts, item.drawn, item.largest) == ((), None, "size unknown")
    line, total = orders(trip, tmp_path, totals=True)
    assert line["crop_width_px"] == line["paper"] == line["print_width_mm"] == ""
    assert "unknown" in line["remark"] and total["remark"].endswith("; without a size: 1")


def test_blended_sets_say_what_is_known(make_trip: MakeTrip, make_frame: MakeFrame) -> None:
    stack = {"sequence": "focus stack", "sequence_of": "x", **CHOSEN}
    (job,) = jobs(make_trip([make_frame(f"TARN010{n}", n, **stack) for n in range(2)]))
    assert job.size == (6000, 4000) and "the most there is" in job.note
    bracket = {"bracket": "x", **CHOSEN}
    odd = [make_frame("TARN0101", **bracket), make_frame("TARN0102", 1, **bracket, width_px=5000)]
    (job,) = jobs(make_trip(odd))
    assert job.size is None and job.note.endswith("the size is unknown: its frames differ")
    nameless = make_frame("TARN0101", **CHOSEN, width_px=None)
    (job,) = jobs(make_trip([nameless]))
    assert job.size is None and job.note == "its size is unknown"


def test_order_sheet_for_a_printer(make_trip: MakeTrip, make_frame: MakeFrame, tmp_path: Path) -> None:
    small = {"width_px": 600, "height_px": 400}
    trip = make_trip(
        [
            make_frame("TARN0101", **CHOSEN, colour_profile="Sea, for paper", bit_depth=16),
            make_frame("TARN0102", 1, **CHOSEN, **CROPPED, orientation=6),
            make_frame("TARN0103", 2, **CHOSEN, **small),
            make_frame("TARN0104", 3),
        ]
    )
    whole, turned, few = orders(trip, tmp_path)
    assert tuple(whole) == HEADER
    assert (whole["file"], whole["path"]) == ("TARN0101.JPG", "DCIM/100BRAT/TARN0101.JPG")
    assert (whole["line"], whole["copies"], whole["border_mm"]) == ("1", "1", "0")
    assert (whole["colour_profile"], whole["bits"]) == ("Sea, for paper", "16")
    assert (whole["print_width_mm"], whole["print_height_mm"]) == ("500.0", "333.3")
    assert (whole["print_width_in"], whole["print_height_in"]) == ("19.69", "13.12")
    assert (whole["ppi"], whole["paper"]) == ("305", "40 × 50 cm")
    shown = [turned[f"crop_{n}_px"] for n in ("left", "top", "width", "height")]
    stored = [turned[f"crop_stored_{n}_px"] for n in ("left", "top", "width", "height")]
    assert (shown, stored) == (["400", "600", "3200", "4800"], ["600", "400", "4800", "3200"])
    assert (turned["print_width_mm"], turned["print_height_mm"]) == ("266.7", "400.0")
    assert (few["paper"], few["remark"]) == ("", "no common sheet at 180 ppi")
    *_, total = orders(trip, tmp_path, totals=True)
    assert total["copies"] == "3" and len({line["job"] for line in (whole, turned, few, total)}) == 1
    assert total["remark"] == "pictures: 3; prints: 3; printed area: 0.27 m2; without a size: 1"


@pytest.mark.parametrize("name", ['=HYPERLINK("x")', "+1", "-1", "@x", "\t=1", "\uff1d1", "caf\udce9"])
def test_no_cell_starts_a_formula(
    make_trip: MakeTrip, make_frame: MakeFrame, tmp_path: Path, name: str
) -> None:
    trip = make_trip([make_frame("TARN0101", folder=".", files=[name], **CHOSEN)])
    (line,) = orders(trip, tmp_path)
    assert not line["file"].lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\uff1d"))
    assert name.strip("\t").replace("\udce9", "\\xe9") in line["file"]


def test_page_and_sheet_hold_nothing_hostile_or_private(
    make_trip: MakeTrip, make_frame: MakeFrame, tmp_path: Path
) -> None:
    hostile = '<script>alert(1)</script>"><img src=x onerror=alert(2)>'
    trip = make_trip([make_frame(hostile, folder=".", **{**CHOSEN, "kept_why": hostile}, **CROPPED)])
    html = render(trip)
    assert "<script>alert" not in html and "<img src=x" not in html
    assert html.count('id="print-1"') == 1 and 'href="#print-1"' in html
    write(trip, tmp_path / "out")
    sheet = (tmp_path / "out" / "newest" / "orders.csv").read_text(encoding="utf-8")
    assert "SER3001234" not in sheet and "/home/" not in sheet


def test_two_runs_give_the_same_bytes(result: Result, tmp_path: Path) -> None:
    result.frames.loc[:3, "kept"] = "proposed"
    for name in ("a", "b"):
        (tmp_path / name).write_text(orders_text(result), encoding="utf-8", newline="")
    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()
    assert desk(result) == desk(result)


def test_empty_trip(empty_result: Result, tmp_path: Path) -> None:
    assert desk(empty_result).items == ()
    assert orders(empty_result, tmp_path) == []
    assert "Nothing was chosen" in render(empty_result)


# A picture with a mark in each corner of what is to be kept; all else is grey.
WIDE, HIGH = 96, 64
LEFT, TOP, CROP_WIDE, CROP_HIGH = 16, 8, 64, 40
MARK = 8
CORNERS = {"red": (255, 0, 0), "green": (0, 255, 0), "blue": (0, 0, 255), "yellow": (255, 255, 0)}


def marked(orientation: int, path: Path) -> None:
    """A picture as stored that shows red, green, blue, yellow marks in reading order where it is upright.

    A JPEG, since Pillow turns a TIFF by itself; the marks are whole blocks, so that nothing bleeds.
    """
    swapped = orientation >= 5
    wide, high = (CROP_HIGH, CROP_WIDE) if swapped else (CROP_WIDE, CROP_HIGH)
    inner = np.full((high, wide, 3), 200, dtype=np.uint8)
    inner[:MARK, :MARK], inner[:MARK, -MARK:] = CORNERS["red"], CORNERS["green"]
    inner[-MARK:, :MARK], inner[-MARK:, -MARK:] = CORNERS["blue"], CORNERS["yellow"]
    back = {1: 1, 2: 2, 3: 3, 4: 4, 5: 5, 6: 8, 7: 7, 8: 6}[orientation]
    upright = Image.fromarray(inner)
    upright.getexif()[274] = back
    stored = np.full((HIGH, WIDE, 3), 90, dtype=np.uint8)
    stored[TOP : TOP + CROP_HIGH, LEFT : LEFT + CROP_WIDE] = np.asarray(ImageOps.exif_transpose(upright))
    exif = Image.Exif()
    exif[274] = orientation
    Image.fromarray(stored).save(path, exif=exif, quality=100, subsampling=0)


def corners_of(picture: Image.Image) -> list[str]:
    """The colours in the four corners, in reading order."""
    pixels = np.asarray(picture).astype(int)
    names = list(CORNERS)
    off = [[np.abs(pixels[y, x] - CORNERS[n]).max() for n in names] for y in (0, -1) for x in (0, -1)]
    assert np.min(off, axis=1).max() < 12, off
    return [names[int(np.argmin(one))] for one in off]


@pytest.mark.parametrize("orientation", range(1, 9))
def test_crops_land_on_the_right_pixels(orientation: int, make_trip: MakeTrip, tmp_path: Path) -> None:
    dump = tmp_path / "dump"
    dump.mkdir()
    marked(orientation, dump / "TARN0101.JPG")
    row = scan(dump).frames.to_dict("records")[0]
    assert (row["width_px"], row["height_px"], row["orientation"]) == (WIDE, HIGH, orientation)
    crop = {"clean_crop": f"{LEFT}, {TOP}, {CROP_WIDE}, {CROP_HIGH}", "clean_crop_share": 0.4167}
    trip = make_trip([{"declaration": "undeclared"} | row | CHOSEN | crop])
    (line,) = orders(trip, tmp_path)

    def cut(picture: Image.Image, which: str) -> Image.Image:
        left, top, wide, high = (int(line[f"{which}_{n}_px"]) for n in ("left", "top", "width", "height"))
        return picture.crop((left, top, left + wide, top + high))

    with Image.open(dump / line["path"]) as stored:
        as_stored = cut(stored.convert("RGB"), "crop_stored")
        as_shown = cut(ImageOps.exif_transpose(stored).convert("RGB"), "crop")
    assert corners_of(as_shown) == list(CORNERS)
    assert sorted(corners_of(as_stored)) == sorted(CORNERS)
    for kept in (as_shown, as_stored):  # nothing of what is cut off
        assert not (np.abs(np.asarray(kept).astype(int) - 90).max(axis=2) < 12).any()
    (item,) = desk(trip).items
    shown = [int(n) for n in re.findall(r"\d+", item.cuts[1].shown)]
    assert shown == [int(line[f"crop_{n}_px"]) for n in ("left", "top", "width", "height")]
    assert item.drawn is not None
    assert (item.drawn.width, item.drawn.height) == ((HIGH, WIDE) if orientation >= 5 else (WIDE, HIGH))


def test_each_frame_tells_its_largest_print(make_trip: MakeTrip, make_frame: MakeFrame) -> None:
    trip = make_trip([make_frame("TARN0101", **CHOSEN, **CROPPED), make_frame("TARN0102", 1)])
    first, second = (
        html.partition("</article>")[0] for html in render(trip).split('<article class="frame')[1:]
    )
    assert "50.8 × 33.9 cm at 300 ppi, 40.6 × 27.1 cm by the clean crop" in plain(first)
    assert 'href="#print-1"' in first
    assert "50.8 × 33.9 cm at 300 ppi<" in plain(second) and "print-1" not in second


def test_from_keep_file_to_order_sheet(tmp_path: Path) -> None:
    """The whole way: a dump with a choice in it, audited, printed."""
    dump = tmp_path / "dump"
    dump.mkdir()
    for orientation in (1, 6):
        marked(orientation, dump / f"TARN010{orientation}.JPG")
    (dump / "keep.txt").write_text("tarn0106  # the tall one\nTARN0199\n", encoding="utf-8")
    before = sorted((p.name, p.read_bytes()) for p in dump.iterdir())
    result = audit(dump, pixels="off")
    assert result.frames["kept"].tolist()[1] == "keep.txt" and result.frames["kept"].isna().tolist()[0]
    assert [str(m) for m in result.mistakes] == [
        "keep.txt:2: TARN0199: no such frame; write the file's name, or its path below this folder"
    ]
    (line,) = orders(result, tmp_path)
    assert (line["file"], line["exif_orientation"]) == ("TARN0106.JPG", "6")
    assert (line["crop_width_px"], line["crop_height_px"]) == (str(HIGH), str(WIDE))
    assert sorted((p.name, p.read_bytes()) for p in dump.iterdir()) == before
