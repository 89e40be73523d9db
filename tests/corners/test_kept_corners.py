"""What is kept of corners between runs changes nothing, and depends on all that it follows from."""

from __future__ import annotations

import os
from dataclasses import fields, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from camera_files import block, jpeg, ratio, whole
from spoiling import WAYS, spoilt

from audit.cli.entry import run
from audit.corners import kept, verdict
from audit.corners.answer import Widest
from audit.corners.kept import Crops, KeptCorners, packed, unpacked
from audit.corners.predict import predict
from audit.corners.prediction import Prediction
from audit.corners.verdict import add_corners
from audit.crew import wire
from audit.declare.rig import Opening, Rails, Rig
from audit.kit.kit import Kit
from audit.kit.lens_data import find_lens
from audit.message.text import made_of, say
from audit.optics.crop import Crop
from audit.optics.distortion import Distortion

RING, HOLDER = Opening("ring bore", 74.0, 4.0), Opening("holder bore", 85.0, 11.0, glass_mm=2.0)
RAILS = Rails(say("{holder_name}", holder_name="h1"), 86.0, 12.0, 20.0, assumed_across=("width of h1",))
WORN = Rig("worn", "77 mm ring, holder", ring="r77", ring_kind="standard", openings=(RING, HOLDER))
RIGS = {
    "bare": Rig("bare", "bare lens"),
    "r": WORN,
    "turned": replace(WORN, rails=(RAILS,)),
    "aside": replace(WORN, openings=(RING, replace(HOLDER, across_err_mm=0.7))),
    "named": replace(WORN, openings=(replace(RING, name="bore of r77"), HOLDER)),
    "shifted": replace(WORN, shift_mm=(0.0, 4.0)),
}
LENS = {"id": "w16", "focal_mm": [16, 35], "thread_mm": 77.0}
PUPIL = {
    "focal_mm": 16.0,
    "depth_mm": 23.0,
    "drift_mm": 1.0,
    "growth": 0.02,
    "err": [1.0, 0.5, 0.01, 1.0],
    "together": [0.1, 0.0, 0.0, 0.2, 0.0, 0.0],
}
LENSES: tuple[dict[str, Any], ...] = (
    {},
    {"pupil_depth_mm": 25.0},
    {"pupil_depth_mm": 25.0, "pupil_depth_err_mm": 1.0},
    {"pupil_depths": [[16, 25.0, 1.0], [35, 31.0, 1.0]]},
    {"pupil_depths": [[16, 25.0, 1.0], [35, 30.0, 1.0]]},
    {"distortion_percent": [-3.0, 1.0]},
    {"distortion_percent": [-3.0, 2.0]},
    {"calibrated": [PUPIL]},
    {"calibrated": [{**PUPIL, "together": [0.3, 0.0, 0.0, 0.2, 0.0, 0.0]}]},
)
ROW: dict[str, Any] = {
    "declaration": "worn",
    "rig": "r",
    "lens_id": "w16",
    "width_px": 6000,
    "height_px": 4000,
}
ROW |= {"make": "Brattholm", "focal_length_mm": 16.0}
TOML = """
body = [{ name = "A", model = "Brattholm Tarn", serial = "3001234", sensor_mm = [35.9, 24.0] }]
lens = [{ id = "w16", exif = ["Sund 16-35 mm f4"], thread_mm = 77, focal_mm = [16, 35] }]
ring = [{ id = "r77", thread_mm = 77, kind = "standard", bore_mm = 74, height_mm = 4 }]
holder = [{ id = "h1", slots = 2 }]
filter = [{ id = "n6", kind = "neutral", stops = 6 }]
"""
CHANGES: tuple[dict[str, Any], ...] = (
    *({"rig": name} for name in RIGS),
    {"focal_length_mm": np.nextafter(16.0, 17.0)},
    {"focal_length_mm": 13.0},
    {"focal_length_mm": 13.0, "width_px": 3000, "height_px": 2000},
    {"f_number_exact": 5.6},
    {"sensor_width_mm": 35.9},
    {"sensor_err": 0.02},
    {"subject_distance_m": 0.4},
    {"formats": "NEF"},
    {"width_px": 4000, "height_px": 6000, "sensor_width_mm": 24.0, "sensor_height_mm": 36.0},
    {"lens_id": None},
)


class Data:
    source = "an invented lens (its licence)"

    def __init__(self, percent: float) -> None:
        self.measured = (percent,)

    def distortion(self, focal_length_mm: float) -> Distortion:
        return Distortion.from_percent(self.measured[0], 21.63)

    def paraxial_focal_mm(self, focal_length_mm: float) -> float:
        return focal_length_mm * 1.01

    def falloff(self, focal_length_mm: float, f_number: float, distance_m: float) -> None:
        return None


@pytest.fixture
def cache(tmp_path: Path) -> Path:
    return tmp_path / "cache" / "pixels.sqlite"


@pytest.fixture
def dump(tmp_path: Path) -> Path:
    """One frame behind a holder, which is cut."""
    folder = tmp_path / "dump"
    (folder / "100TARNA").mkdir(parents=True)
    more = {0x920A: ratio((16, 1)), 0x829D: ratio((4, 1)), 0xA002: whole(6000), 0xA003: whole(4000)}
    (folder / "100TARNA" / "TARN0001.JPG").write_bytes(jpeg(block(more=more), (6000, 4000)))
    (folder / "kit.toml").write_text(TOML, encoding="utf-8")
    worn = '[frames]\n"TARN0001" = "n6"\n'
    (folder / "100TARNA" / "filters.toml").write_text(worn, encoding="utf-8")
    return folder


@pytest.fixture
def reckoned(monkeypatch) -> list[str]:
    """What was reckoned, in turn."""
    done: list[str] = []

    def noted(name: str, real: Any) -> Any:
        return lambda *given, **named: done.append(name) or real(*given, **named)

    monkeypatch.setattr(kept, "predict", noted("prediction", kept.predict))
    monkeypatch.setattr(kept, "clean_crop", noted("crop", kept.clean_crop))
    monkeypatch.setattr(verdict, "widest_clear", noted("widest", verdict.widest_clear))
    return done


Outcome = tuple[pd.DataFrame, dict[str, Prediction]]


def corners(frames: pd.DataFrame, cache: Path | None, *, lens: Any = None, data: Any = None) -> Outcome:
    """The columns and predictions; nothing may be wrong with what is kept."""
    with KeptCorners(cache) as keeping:
        kit = Kit.model_validate({"lens": [{**LENS, **(lens or {})}]})
        optics = {("Brattholm", "Brattholm Tarn", "Sund 16-35 mm f4"): data} if data else {}
        made = add_corners(frames, RIGS, kit, optics, keeping)
    assert keeping.fault == ""
    return made


def same(one: Outcome, other: Outcome) -> None:
    """To the last bit, types and the words' making included."""
    pd.testing.assert_frame_equal(one[0], other[0], check_exact=True)
    assert one[1].keys() == other[1].keys()
    for name, prediction in one[1].items():
        for field in fields(prediction):
            a, b = getattr(prediction, field.name), getattr(other[1][name], field.name)
            if isinstance(a, np.ndarray):
                assert (a.dtype, a.shape, a.tobytes()) == (b.dtype, b.shape, b.tobytes())
            else:
                assert a == b
        texts = [(prediction.limits, *prediction.assumed), (other[1][name].limits, *other[1][name].assumed)]
        assert [made_of(text) for text in texts[0]] == [made_of(text) for text in texts[1]]


def test_kept_is_as_reckoned_and_nothing_is_reckoned_twice(table, cache, reckoned):
    frames = table([ROW, *({**ROW, **change} for change in CHANGES)])
    plain = corners(frames, None)
    assert {*reckoned} == {"prediction", "crop", "widest"}
    assert {"cut", "clear", "at risk"} == {*plain[0]["corner_verdict"]}
    reckoned.clear()
    same(corners(frames, cache), plain)
    assert {*reckoned} == {"prediction", "crop", "widest"}
    reckoned.clear()
    same(corners(frames, cache), plain)
    assert reckoned == []
    if os.name == "posix":
        assert (cache.parent.stat().st_mode & 0o777) == 0o700


@pytest.mark.parametrize("change", CHANGES, ids=str)
def test_a_frame_that_differs_has_its_own(table, cache, change):
    corners(table([ROW]), cache)
    frames = table([{**ROW, **change}])
    same(corners(frames, cache), corners(frames, None))


def test_a_kit_or_lens_data_that_changed_give_anew(table, cache):
    frames = table([{**ROW, "focal_length_mm": focal, "formats": "NEF"} for focal in (16.0, 20.0)])
    outcomes = []
    for lens, data in [*((lens, None) for lens in LENSES), ({}, Data(-3.0)), ({}, Data(-2.0))]:
        outcomes.append(corners(frames, cache, lens=lens, data=data))
        same(outcomes[-1], corners(frames, None, lens=lens, data=data))
    for one, other in pairwise(outcomes):
        assert not one[0].equals(other[0])


def test_the_library_s_own_lens_is_known_again(table, cache, reckoned):
    data = find_lens("Canon", "Canon EOS 5D Mark III", "EF16-35mm f/4L IS USM", 16.0, 35.0)
    assert data is not None and data.distortion(16.0) is not None
    frames = table([{**ROW, "formats": "NEF"}])
    plain = corners(frames, cache, data=data)
    reckoned.clear()
    same(corners(frames, cache, data=data), plain)
    assert reckoned == []
    again = replace(data, half_diagonal_mm=data.half_diagonal_mm * 0.9)
    same(corners(frames, cache, data=again), corners(frames, None, data=again))


@pytest.mark.parametrize("what", ["program", "numpy"])
def test_another_program_reckons_anew(table, cache, reckoned, monkeypatch, what):
    corners(table([ROW]), cache)
    count = len(reckoned)
    if what == "program":
        monkeypatch.setattr(kept, "program", lambda *rooms: "another")
    else:
        monkeypatch.setattr(np, "__version__", "another")
    corners(table([ROW]), cache)
    assert len(reckoned) == 2 * count


@pytest.mark.parametrize("how", WAYS)
def test_a_file_that_cannot_be_used_changes_nothing_and_is_told(table, cache, how, monkeypatch):
    monkeypatch.setattr("audit.disk.kept.WAIT_S", 0.05)
    frames = table([ROW])
    plain, file = corners(frames, cache), cache.with_name("corners.sqlite")
    with spoilt(file, how) as before, KeptCorners(cache) as keeping:
        found = add_corners(frames, RIGS, Kit.model_validate({"lens": [LENS]}), {}, keeping)
    same(found, plain)
    assert "corners.sqlite: " in keeping.fault
    assert not file.is_file() or file.read_bytes() == before


def example() -> Prediction:
    geometry = verdict.Geometry(13.0, 8.0, 36.0, 24.0)
    return predict(RIGS["turned"], geometry, None)


def test_only_what_has_the_right_shape_is_believed():
    whole = wire.unpacked(packed(example()))
    assert isinstance(unpacked(packed(example())), Prediction)
    spoilt: list[Any] = [
        *(whole[:n] for n in range(5)),
        [whole[0][:2], *whole[1:]],
        [[*whole[0][:2], 1], *whole[1:]],
        [whole[0], [*whole[1], 1.0], *whole[2:]],
        [*whole[:2], 7, *whole[3:]],
        [*whole[:3], [1], whole[4]],
        [*whole[:4], whole[4][:-8]],
        [*whole[:4], whole[4].decode("latin-1")],
        *([1.0, 2.0, 3.0], [1.0, 2.0, 3.0, 4], [1.0, 2.0, 3.0, None]),
        *([[1, 2, 3, 4], None], [[1, 2, 3, 4, 5], None], [None, None, None], [None, [1.0, 2, 3, 4, 0.5]]),
        *(None, 5, {}, "text", {"best": 1.0}),
    ]
    for values in spoilt:
        assert unpacked(wire.packed(values)) is None
    for data in (b"", b"\xc1", packed(example())[:-1], os.urandom(100)):
        assert unpacked(data) is None


@pytest.mark.parametrize(
    "made",
    [
        Widest(8.6, 12.0, float("inf"), 8.6),
        Crops(None, None),
        Crops(Crop(1, 2, 3, 4, 0.5), None),
        Crops(Crop(1, 2, 3, 4, 0.5), Crop(5, 6, 7, 8, 0.25)),
    ],
    ids=str,
)
def test_what_is_packed_comes_back(made):
    assert unpacked(packed(made)) == made


def test_what_lies_under_the_key_of_another_kind_is_not_used(table, cache, reckoned, monkeypatch):
    plain = corners(table([ROW]), None)
    reckoned.clear()
    monkeypatch.setattr(kept, "_key", lambda *parts: "one for all")
    same(corners(table([ROW]), cache), plain)
    assert {*reckoned} == {"prediction", "crop", "widest"}


def test_the_command_says_one_line_and_no_cache_makes_none(dump, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "home"))
    folder = tmp_path / "home" / "cornerstop"
    audit = ["audit", str(dump), "--pixels", "off", "--quiet"]
    bare = run([*audit, "--out", str(tmp_path / "none"), "--no-cache"])
    assert not folder.exists()
    assert run([*audit, "--out", str(tmp_path / "first")]) == bare
    assert (folder / "corners.sqlite").exists()
    assert run([*audit, "--out", str(tmp_path / "second")]) == bare
    assert "kept" not in capsys.readouterr().err
    (folder / "corners.sqlite").write_bytes(b"mine")
    assert run([*audit, "--out", str(tmp_path / "foreign")]) == bare
    said = [line for line in capsys.readouterr().err.splitlines() if "kept" in line]
    assert len(said) == 1 and "corners.sqlite: not as cornerstop writes it" in said[0]
    assert (folder / "corners.sqlite").read_bytes() == b"mine"
    tables = [
        (tmp_path / out / "newest" / "frames.parquet").read_bytes()
        for out in ("none", "first", "second", "foreign")
    ]
    assert len({*tables}) == 1
