"""`cornerstop filters` on a folder of simulated frames: a neutral that is not what its rim says."""

import io
import json
import tomllib
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
from audit.demo.scene import paint

KIT = """\
# test kit
[[body]]
name = "A"
model = "Brattholm Tarn"
sensor_mm = [36.0, 24.0]

[[lens]]
id = "w16"
exif = ["Sund 16 mm f2.8"]
focal_mm = 16
thread_mm = 77

[[ring]]
id = "ring"
thread_mm = 77

[[holder]]
id = "main"
slots = 2

[[filter]]
id = "n6"            # bought used
kind = "neutral"
stops = 6

[[filter]]
id = "n3"
kind = "neutral"
density = 0.9

[[filter]]
id = "g2"
kind = "grad-soft"
stops = 2
"""
TRUE_STOPS = {"": 0.0, "n6": 5.3, "n3": 2.99}
PICTURES = {}


def codes(scene, stops):
    """sRGB with the contrast of a camera, of a scene that got `stops` less than metered."""
    if scene not in PICTURES:
        PICTURES[scene] = paint(("valley", "moor", "tarn")[scene % 3], 40 + scene, 480, 320, 13.0, 0.9)
    light = PICTURES[scene] * 0.17 * 2.0**-stops
    noise = np.random.default_rng(scene).normal(0, 0.001, light.shape)
    return np.clip(255 * (np.clip(light + noise, 0, 1) ** (1.3 / 2.2)) * 1.15, 0, 255).astype(np.uint8)


def picture(scene, minute, stops, seconds):
    out = io.BytesIO()
    Image.fromarray(codes(scene, stops)).save(out, "JPEG", quality=90)
    exif = {
        0x829A: ratio(seconds),
        0x829D: ratio((80, 10)),
        0x8827: short(100),
        0x9000: raw_bytes(b"0232"),
        0x9003: text(f"2026:05:02 {10 + scene}:{minute:02d}:00"),
        0x920A: ratio((160, 10)),
        0xA434: text("Sund 16 mm f2.8"),
    }
    main = {0x010F: text("Brattholm"), 0x0110: text("Brattholm Tarn"), 0x0112: short(1)}
    return with_exif(out.getvalue(), tiff_block([Directory(main, below={EXIF_POINTER: Directory(exif)})]))


class Trip:
    """Frames of some scenes with what was worn and how long each was exposed, as shot for 1/256 s bare."""

    def __init__(self, path: Path):
        self.path, self.count, self.spans = path, 0, []
        path.mkdir()
        (path / "kit.toml").write_text(KIT, encoding="utf-8")

    def scene(self, number, *worn):
        for minute, name in enumerate(worn):
            self.count += 1
            longer = {"": 0, "n6": 5, "n3": 3}[name.lstrip("?")]
            stem = f"TARN{self.count:04d}"
            darker = TRUE_STOPS[name.lstrip("?")] - longer
            data = picture(number, minute, darker, (1, 2 ** (8 - longer)))
            self.path.joinpath(f"{stem}.JPG").write_bytes(data)
            name = name.lstrip("?")
            what = f'ring = "ring"\nholder = "main"\nslots = ["{name}"]' if name else "bare = true"
            self.spans.append(f'[[worn]]\nfiles = ["{stem}"]\n{what}\n')
        (self.path / "filters.toml").write_text("\n".join(self.spans), encoding="utf-8")
        return self


@pytest.fixture
def trip(tmp_path, away):
    return Trip(tmp_path / "trip")


def command(trip, *more):
    return run(["filters", str(trip.path), "--pixels", "full", "--no-cache", *more])


def filter_in(trip, id):
    kit = tomllib.loads((trip.path / "kit.toml").read_text(encoding="utf-8"))
    return next(one for one in kit["filter"] if one["id"] == id)


def test_a_filter_that_proves_off_is_shown_and_only_then_written(trip, capsys):
    trip.scene(0, "", "n6", "n6", "").scene(1, "", "n6", "n3", "n3", "")
    assert command(trip) == 0
    shown = capsys.readouterr().out
    assert (
        "takes 0.7 stops less than declared" in shown
        and "3 pairs in 2 scenes" in shown
        and "as declared" in shown
    )
    assert "g2: a grad covers part of the frame" in shown
    assert "+measured_stops = 5." in shown and "nothing written; --write does it" in shown
    assert (trip.path / "kit.toml").read_text(encoding="utf-8") == KIT

    assert command(trip, "--write") == 0
    assert "written; as it was" in capsys.readouterr().out
    assert (trip.path / "kit.toml.bak").read_text(encoding="utf-8") == KIT
    n6 = filter_in(trip, "n6")
    assert abs(n6["measured_stops"] - TRUE_STOPS["n6"]) <= n6["measured_err_stops"] < 0.5
    assert n6["stops"] == 6 and "measured_stops" not in filter_in(trip, "n3")
    assert "# bought used" in (trip.path / "kit.toml").read_text(encoding="utf-8")

    assert command(trip, "--write") == 0
    again = capsys.readouterr().out
    assert "nothing to change" in again and "(label 6)" in again
    assert not (trip.path / "kit.toml.bak1").exists()


def test_one_scene_proves_nothing_and_json_says_it(trip, capsys):
    trip.scene(0, "", "n6", "n6", "n6", "")
    assert command(trip, "--json", "--write") == 0
    told = json.loads(capsys.readouterr().out)
    n6 = next(one for one in told["filters"] if one["filter"] == "n6")
    assert n6["pairs"] == 3 and n6["scenes"] == 1 and n6["values"] == {}
    assert n6["stops"] == pytest.approx(TRUE_STOPS["n6"], abs=0.25) and n6["label_stops"] == [6, 6]
    assert "would prove it" in n6["words"]
    n3 = next(one for one in told["filters"] if one["filter"] == "n3")
    assert n3["stops"] is None and n3["why"]
    assert told["diff"] == "" and told["backup"] is None


def test_what_cannot_be_done_is_said_in_one_line(trip, capsys):
    trip.scene(0, "", "n6")
    (trip.path / "kit.toml").write_text('place = "Skarven"\n', encoding="utf-8")
    (trip.path / "filters.toml").unlink()
    assert command(trip) == 2
    assert "no filter that takes light" in capsys.readouterr().err
    (trip.path / "kit.toml").unlink()
    assert command(trip) == 2
    assert "no kit.toml" in capsys.readouterr().err
