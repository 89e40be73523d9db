"""The written trip: deterministic, complete, and as its truth table says."""

from __future__ import annotations

import hashlib
import io
import tomllib
from pathlib import Path

import exifread
import numpy as np
import pytest
from PIL import Image

from audit.demo import write_trip
from audit.errors import AuditError

CHECKS = {
    "corners", "corner-rules", "exposure-sum", "too-bright", "unit-slip", "undeclared", "impossible-values",
    "time-missing", "clock-offset", "counter-gap", "duplicate", "raw-alone", "unreadable", "filter-strength",
    "corners-shown", "colour-cast", "jpeg-clipped", "exposure-off", "estimate-declared", "bracket-end",
    "bulb-time", "light-drift", "iso-left-high", "diffraction", "strong-handheld", "light-leak",
}  # fmt: skip


def _sums(folder: Path) -> dict[str, str]:
    files = sorted(p for p in folder.rglob("*") if p.is_file())
    return {p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}


def _pictures(trip: Path) -> list[Path]:
    return [
        p for p in sorted(trip.rglob("*")) if p.suffix in (".JPG", ".DNG") and not p.name.startswith("._")
    ]


def test_two_runs_write_the_same_bytes(trip, tmp_path):
    seen: list[tuple[int, int]] = []
    again = write_trip(
        tmp_path / "again", small=True, progress=lambda done, total: seen.append((done, total))
    )
    assert _sums(again.parent) == _sums(trip.parent)
    assert [done for done, _ in seen] == list(range(1, seen[0][1] + 1))


def test_refuses_what_is_not_an_empty_folder(tmp_path):
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "picture.jpg").write_bytes(b"mine")
    with pytest.raises(AuditError, match="not empty"):
        write_trip(tmp_path / "full")
    with pytest.raises(AuditError, match="is a file"):
        write_trip(tmp_path / "full" / "picture.jpg")
    assert [p.name for p in (tmp_path / "full").iterdir()] == ["picture.jpg"]


def test_somewhat_over_a_hundred_pictures_of_small_size(trip):
    jpegs = [p for p in _pictures(trip) if p.suffix == ".JPG"]
    assert 100 <= len(jpegs) <= 150
    assert sum(p.stat().st_size for p in jpegs) < 9_000_000


def test_every_id_of_the_truth_is_a_frame(trip, truth):
    there = {p.relative_to(trip).with_suffix("").as_posix() for p in _pictures(trip)}
    for row in truth["planted"] + truth["innocent"]:
        assert row["frames"], row
        assert set(row["frames"]) <= there, row
    assert set(truth["corners"]) <= there


def test_a_mistake_and_an_innocent_look_alike_for_every_check(truth):
    assert {row["check"] for row in truth["planted"]} == CHECKS
    assert {row["check"] for row in truth["innocent"]} == CHECKS
    assert len(truth["innocent"]) >= len(truth["planted"])
    assert {row["level"] for row in truth["planted"]} == {"act", "look", "note"}


def test_no_frame_is_both_guilty_and_innocent(truth):
    guilty = {(row["check"], f) for row in truth["planted"] for f in row["frames"]}
    innocent = {(row["check"], f) for row in truth["innocent"] for f in row["frames"]}
    assert not guilty & innocent


def test_truth_lies_outside_the_dump(trip):
    assert not list(trip.rglob("truth.json"))


def test_written_files_parse_and_name_only_what_the_kit_has(trip):
    kit = tomllib.loads((trip / "kit.toml").read_text(encoding="utf-8"))
    filters = {f["id"] for f in kit["filter"]}
    rings = {r["id"] for r in kit["ring"]}
    declared = list(trip.rglob("filters.toml"))
    assert len(declared) == 5
    for path in declared:
        for span in tomllib.loads(path.read_text(encoding="utf-8"))["worn"]:
            worn = [*span.get("slots", []), *span.get("second_slots", []), span.get("front", "")]
            assert set(worn) - {""} <= filters
            assert span.get("ring", "r77") in rings
            assert ("files" in span) != ("times" in span)


def test_headers_read_back_as_planned(trip, truth):
    planted = {row["what"]: row["frames"] for row in truth["planted"]}
    noon = trip / (planted["ten stops declared at 1/250 s, f/11 at noon"][0] + ".JPG")
    tags = exifread.process_file(io.BytesIO(noon.read_bytes()), details=False)
    assert str(tags["EXIF ExposureTime"]) == "1/250"
    assert float(tags["EXIF FNumber"].values[0]) == 11
    assert str(tags["Image Model"]) == "Brattholm Tarn"
    assert str(tags["EXIF OffsetTimeOriginal"]) == "+02:00"
    assert len(tags["JPEGThumbnail"]) > 1000
    assert Image.open(io.BytesIO(tags["JPEGThumbnail"])).size == (160, 120)
    undated = trip / (planted["no date in the file"][0] + ".JPG")
    assert not [t for t in exifread.process_file(io.BytesIO(undated.read_bytes())) if "DateTime" in t]


def test_raw_files_open(trip):
    raws = [p for p in _pictures(trip) if p.suffix == ".DNG"]
    assert len(raws) >= 10
    tags = exifread.process_file(io.BytesIO(raws[0].read_bytes()), details=True)
    assert str(tags["Image Model"]) == "Brattholm Tarn"
    assert "EXIF ExposureTime" in tags
    assert max(p.stat().st_size for p in raws) < 40_000
    alone = [p for p in raws if not p.with_suffix(".JPG").exists()]
    assert len(alone) == 1


def test_cut_corners_are_dark_in_the_picture_and_clear_ones_are_not(trip, truth):
    cut = next(row for row in truth["planted"] if row["check"] == "corners" and row["level"] == "act")
    clear = next(row for row in truth["innocent"] if row["check"] == "corners")
    for frame in cut["frames"]:
        assert max(_corner_levels(trip, frame)) < 25
        assert truth["corners"][frame]["loss_stops"] is None or truth["corners"][frame]["loss_stops"] > 1
    for frame in clear["frames"]:
        assert min(_corner_levels(trip, frame)) > 25
        assert truth["corners"][frame]["loss_stops"] < 0.05


def _corner_levels(trip: Path, frame: str) -> list[float]:
    pixels = np.asarray(Image.open(trip / f"{frame}.JPG").convert("L"), dtype=float)
    boxes = (pixels[:8, :8], pixels[:8, -8:], pixels[-8:, :8], pixels[-8:, -8:])
    return [float(box.mean()) for box in boxes]


def test_the_copy_is_a_copy(trip, truth):
    original = next(row for row in truth["planted"] if row["check"] == "duplicate")["frames"][0]
    copy = trip / "selection" / (original.rsplit("/", 1)[1] + ".JPG")
    assert copy.read_bytes() == (trip / f"{original}.JPG").read_bytes()
