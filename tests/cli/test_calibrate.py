"""`cornerstop calibrate` on folders of simulated test frames, sound ones and impossible ones."""

import importlib.util
import io
import json
import sys
import tomllib
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from audit.cli.entry import run
from audit.demo.exif_block import (
    EXIF_POINTER,
    Directory,
    ratio,
    raw_bytes,
    short,
    text,
    tiff_block,
    with_exif,
)
from audit.demo.rays import Round

ROOT = Path(__file__).parents[2]

KIT = """\
# test kit
[[body]]
name = "A"
model = "Brattholm Tarn"
sensor_mm = [36.0, 24.0]

[[lens]]
id = "w16"           # the wide one
exif = ["Sund 16 mm f2.8"]
focal_mm = 16
thread_mm = 77

[[lens]]
id = "z18"
exif = ["Sund 18-35 mm f4"]
focal_mm = [18, 35]
thread_mm = 77

[[lens]]
id = "m28"           # without contacts
focal_mm = [28, 50]
no_contacts = true
thread_mm = 77

[[ring]]
id = "ring"
thread_mm = 77
bore_mm = 70
height_mm = 4

[[ring]]
id = "far"
thread_mm = 77
bore_mm = 90
height_mm = 31

[[ring]]
id = "tube"
thread_mm = 77
bore_mm = 12
height_mm = 60
"""
RINGS = {"ring": Round(35, 4), "far": Round(45, 31)}


@pytest.fixture(scope="module")
def simulator():
    spec = importlib.util.spec_from_file_location("calibration_sim", ROOT / "benchmarks" / "calibration.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


class Folder:
    """A folder of test frames in the making."""

    def __init__(self, path, simulator):
        self.path, self.simulator = path, simulator
        self.rng, self.count, self.spans = np.random.default_rng(5), 0, []
        self.lens = simulator.Lens(16.0, 25.0, 1.9, 0.5, 1.6)
        self.scene = simulator.Scene(0.6, 0.4, 1.0)
        path.mkdir()
        (path / "kit.toml").write_text(KIT, encoding="utf-8")

    def codes(self, ring=None, f_number=8.0, lens=None):
        rig = RINGS.get(ring)
        return self.simulator.frame(lens or self.lens, f_number, rig, self.rng, self.scene)

    def add(self, codes, ring=None, *, focal=16.0, f_number=8.0, name="Sund 16 mm f2.8", declare=True):
        """One frame with its EXIF and its span."""
        self.count += 1
        stem = f"TARN{self.count:04d}"
        self.path.joinpath(f"{stem}.JPG").write_bytes(
            picture(codes, focal, f_number, name, minute=self.count)
        )
        if declare:
            what = f'ring = "{ring}"' if ring else "bare = true"
            self.spans.append(f'[[worn]]\nfiles = ["{stem}"]\n{what}\n')
        (self.path / "filters.toml").write_text("\n".join(self.spans), encoding="utf-8")
        return self

    def plain(self, rings=("ring", "far"), bare=True):
        for f_number in (5.6, 11.0):
            for ring in (*([None] if bare else []), *rings):
                self.add(self.codes(ring, f_number), ring, f_number=f_number)
        return self


def picture(codes, focal, f_number, name, minute):
    out = io.BytesIO()
    Image.fromarray(np.repeat(codes[..., None], 3, axis=2)).save(out, "JPEG", quality=90)
    exif = {
        0x829A: ratio((1, 100)),
        0x8827: short(100),
        0x9000: raw_bytes(b"0232"),
        0x9003: text(f"2026:05:02 10:{minute:02d}:00"),
    }
    exif |= {0x829D: ratio((round(f_number * 10), 10))} if f_number else {}
    exif |= {0x920A: ratio((round(focal * 10), 10))} if focal else {}
    exif |= {0xA434: text(name)} if name else {}
    main = {0x010F: text("Brattholm"), 0x0110: text("Brattholm Tarn"), 0x0112: short(1)}
    return with_exif(out.getvalue(), tiff_block([Directory(main, below={EXIF_POINTER: Directory(exif)})]))


@pytest.fixture
def folder(tmp_path, simulator, away):
    return Folder(tmp_path / "frames", simulator)


def lens_in(folder, id="w16"):
    kit = tomllib.loads((folder.path / "kit.toml").read_text(encoding="utf-8"))
    return next(lens for lens in kit["lens"] if lens["id"] == id)


def test_depth_and_drift_are_found_shown_and_only_then_written(folder, capsys, tmp_path):
    folder.plain()
    assert run(["calibrate", str(folder.path), "--svg", str(tmp_path / "fit.svg")]) == 0
    shown = capsys.readouterr().out
    assert "w16 at 16 mm: entrance pupil 2" in shown and "drift" in shown
    assert shown.count("bare frame") == 4 and "+calibrated = [" in shown
    assert "nothing written" in shown
    assert (folder.path / "kit.toml").read_text(encoding="utf-8") == KIT
    drawing = ET.parse(tmp_path / "fit.svg").getroot()
    assert len(drawing.findall(".//{http://www.w3.org/2000/svg}circle")) == 2 * 4

    assert run(["calibrate", str(folder.path), "--write"]) == 0
    assert (folder.path / "kit.toml.bak").read_text(encoding="utf-8") == KIT
    (found,) = lens_in(folder)["calibrated"]
    assert abs(found["depth_mm"] - 25.0) <= found["err"][0] < 3.5
    assert abs(found["drift_mm"] - 1.6) <= found["err"][1]
    assert abs(found["growth"] - 1.8) <= found["err"][2]
    assert "# the wide one" in (folder.path / "kit.toml").read_text(encoding="utf-8")

    assert run(["calibrate", str(folder.path), "--write"]) == 0
    assert "holds these values already" in capsys.readouterr().out
    assert not (folder.path / "kit.toml.bak1").exists()


def test_without_a_bare_frame_as_json(folder, capsys):
    folder.plain(rings=("ring",), bare=False)
    folder.add(folder.codes(None, 8.0), "tube")
    assert run(["calibrate", str(folder.path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["lens"] == "w16"
    (pupil,) = found["pupils"]
    assert abs(pupil["depth_mm"] - 25.0) <= pupil["depth_mm_err"]
    assert any("photograph a second rig" in note for note in found["notes"])
    assert pupil["drift_mm_err"] > 2.0 and any("too near to each other" in n for n in found["notes"])
    assert {f["against"] for f in found["frames"]} == {"smooth fit"}
    assert found["passed_over"] == [{"frame": "TARN0003", "reason": "no cut in the corners"}]
    assert any("TARN0003 shows no cut where this depth puts one" in note for note in found["notes"])
    assert found["diff"].startswith("--- kit.toml") and found["backup"] is None


def test_frames_wide_open_are_fitted_apart(folder, capsys):
    folder.plain()
    for ring in (None, "ring", "far"):
        folder.add(folder.codes(ring, 4.0), ring, f_number=4.0)
    assert run(["calibrate", str(folder.path), "--write"]) == 0
    shown = capsys.readouterr().out
    assert "below f/5: entrance pupil" in shown and "no frame below f/5" not in shown
    stopped, wide_open = lens_in(folder)["calibrated"]
    assert "wide_open" not in stopped and wide_open["wide_open"] is True
    assert abs(wide_open["depth_mm"] - 25.0) <= wide_open["err"][0]


def test_a_zoom_gets_a_depth_for_each_focal_length(folder):
    for focal, depth, ring in ((18.0, 24.0, "ring"), (24.0, 27.0, "far")):
        lens = folder.simulator.Lens(focal, depth, 1.8, 0.56, 0.9)
        for f_number in (8.0, 11.0):
            codes = folder.codes(ring, f_number, lens)
            folder.add(codes, ring, focal=focal, f_number=f_number, name="Sund 18-35 mm f4")
    assert run(["calibrate", str(folder.path), "--write", "--quiet"]) == 0
    (short_end, long_end) = lens_in(folder, "z18")["calibrated"]
    assert (short_end["focal_mm"], long_end["focal_mm"]) == (18.0, 24.0)
    for found, depth in ((short_end, 24.0), (long_end, 27.0)):
        assert abs(found["depth_mm"] - depth) <= found["err"][0]


def test_one_lens_is_chosen_where_there_are_two(folder):
    folder.plain(rings=("ring",), bare=False)
    folder.add(folder.codes("ring"), "ring", focal=24.0, name="Sund 18-35 mm f4")
    assert run(["calibrate", str(folder.path), "--lens", "w16", "--quiet"]) == 0


def clouds(codes, stops=0.6):
    rows, columns = codes.shape
    y, x = np.mgrid[0:rows, 0:columns]
    wave = np.sin(x / 45) * np.cos(y / 37)
    return np.clip(codes * 2.0 ** (stops * wave * 0.5), 0, 255).astype(np.uint8)


def sloped(codes):
    ramp = np.linspace(-1, 1, codes.shape[1])
    return np.clip(codes * 2.0 ** (1.1 * ramp), 9, 246).astype(np.uint8)


def white_outside(codes):
    rows, columns = codes.shape
    y, x = np.mgrid[0:rows, 0:columns]
    outside = np.hypot(x - columns / 2, y - rows / 2) > 0.6 * np.hypot(rows, columns) / 2
    return np.where(outside & (codes > 70), 255, codes).astype(np.uint8)


def one_side(folder):
    codes, bare = folder.codes("ring").copy(), folder.codes()
    codes[:, 450:] = bare[:, 450:]
    return folder.add(codes, "ring")


def contradiction(folder):
    return folder.add(folder.codes("ring"), "ring").add(folder.codes("ring"), "far")


IMPOSSIBLE = {
    "no cut": (lambda f: f.add(f.codes(), "ring"), "no cut in any of 1 frames"),
    "white corners": (
        lambda f: f.add(white_outside(f.codes("ring")), "ring"),
        "clipped: parts of the outer field are white",
    ),
    "white all over": (lambda f: f.add(np.full((600, 900), 254, np.uint8), "ring"), "clipped"),
    "clouds": (lambda f: f.add(clouds(f.codes("ring")), "ring"), "clouds or structure"),
    "gradient": (lambda f: f.add(sloped(f.codes("ring")), "ring"), "across the picture"),
    "several lenses": (
        lambda f: f.add(f.codes("ring"), "ring").add(f.codes("ring"), "ring", name="Sund 18-35 mm f4"),
        "frames of several lenses: w16, z18; choose one with --lens",
    ),
    "strange lens": (lambda f: f.add(f.codes("ring"), "ring", name="Other 20mm"), "no lens of the kit"),
    "no focal length": (
        lambda f: f.add(f.codes("ring"), "ring", focal=None, f_number=None, name=None),
        "focal length unknown to EXIF and kit",
    ),
    "no f-number": (
        lambda f: f.add(f.codes("ring"), "ring", f_number=None),
        "f-number unknown to EXIF and kit",
    ),
    "bare only": (lambda f: f.add(f.codes()), "no declared rig"),
    "undeclared": (lambda f: f.add(f.codes("ring"), declare=False), "no declared rig"),
    "one side": (one_side, "too few corners are usable"),
    "contradiction": (contradiction, "contradict each other"),
    "impossible rig": (lambda f: f.add(f.codes("ring"), "tube"), "no depth between"),
    "empty": (lambda f: f, "holds no picture"),
    "not to be decoded": (
        lambda f: f.add(f.codes("ring"), "ring") and damage(f),
        "no frame can be used: TARN0001.JPG: the picture is damaged",
    ),
}


def damage(folder):
    path = folder.path / "TARN0001.JPG"
    path.write_bytes(path.read_bytes()[:1200])


@pytest.mark.parametrize("case", IMPOSSIBLE)
def test_what_tells_no_depth_is_refused_in_one_line(folder, case, capsys):
    build, said = IMPOSSIBLE[case]
    build(folder)
    assert run(["calibrate", str(folder.path), "--write"]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err.count("\n") == 1
    assert said in err
    assert (folder.path / "kit.toml").read_text(encoding="utf-8") == KIT


def test_no_kit_and_an_unknown_lens_are_refused(folder, capsys):
    folder.add(folder.codes("ring"), "ring")
    assert run(["calibrate", str(folder.path), "--lens", "w99"]) == 2
    assert 'no lens "w99"' in capsys.readouterr().err
    assert run(["calibrate", str(folder.path), "--lens", "z18"]) == 2
    assert 'no frame was taken with the lens "z18"' in capsys.readouterr().err
    (folder.path / "kit.toml").unlink()
    assert run(["calibrate", str(folder.path)]) == 2
    assert "no kit.toml" in capsys.readouterr().err
