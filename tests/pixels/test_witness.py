"""The step that asks the pictures: simulated frames of a scene, through a camera whose curve is not ours."""

import functools

import numpy as np
import pandas as pd
import pytest
from foreign import grey, photograph
from PIL import Image

from audit.corners.prediction import Prediction
from audit.crew import wire
from audit.declare.rig import Rig
from audit.demo.camera import View, corner_map
from audit.demo.gear import LENSES, standard
from audit.demo.scene import paint
from audit.exposure.scenes import add_scenes
from audit.kit.kit import Kit
from audit.pixels import kept_pairs
from audit.pixels.measure import add_pixels
from audit.pixels.overview import thirds
from audit.pixels.sketch import Sketch

START = pd.Timestamp("2026-05-02 10:00:00")
KIT = Kit.model_validate(
    {
        "filter": [
            {"id": "n6", "kind": "neutral", "stops": 6},
            {"id": "n10", "kind": "neutral", "density": 3.0},
            {"id": "g2", "kind": "grad-soft", "stops": 2},
            {"id": "pol", "kind": "polariser", "round": True},
        ]
    }
)
RIGS = {
    "bare": Rig("bare", "bare lens"),
    "n6": Rig("worn", "n6", filters=("n6",), even_stops=(6.0, 6.0)),
    "n10": Rig("worn", "n10", filters=("n10",), even_stops=(9.97, 9.97)),
    "g2": Rig("worn", "g2", filters=("g2",), grad_stops=2.0),
    "guess": Rig("worn", "n6", filters=("n6",), even_stops=(6.0, 6.0), source="estimated"),
    "empty": Rig("worn", "holder"),
}
VIEW = View(36.0, 24.0, LENSES["w16"].bundle(16, 8))


@functools.lru_cache(maxsize=4)
def light(look="valley", seed=11):
    return paint(look, seed, 480, 320, 13.0, 0.5) * np.float32(0.15)


def cut_by(rig, rows=320, columns=480):
    small = Image.fromarray(corner_map(VIEW, rig))
    nodes = (0.5, 0.5, small.width - 0.5, small.height - 0.5)
    return np.asarray(small.resize((columns, rows), Image.Resampling.BILINEAR, box=nodes))


class Pictures:
    """Sketches of simulated frames: `darker` stops less light than metered, and a map that passes."""

    def __init__(self, **shots):
        self.shots = shots

    def of(self, row):
        if row["frame"] not in self.shots:
            return None
        darker, passed, look, seed = self.shots[row["frame"]]
        exposed = light(look, seed) * np.float32(2.0**-darker) * passed
        code = grey(photograph(exposed, "crisp", seed=sum(row["frame"].encode())))
        colour = np.repeat(code[::4, ::4, None], 3, axis=2)[: code.shape[0] // 4, : code.shape[1] // 4]
        none = np.zeros((3, 3))
        return Sketch(code, colour, none, none, "embedded preview", 480, 320, False)

    def ahead(self, rows):
        pass

    def why(self, row):
        return "" if row["frame"] in self.shots else "no preview"


def shot(darker=0.0, passed=1.0, look="valley", seed=11):
    passed = passed[..., None] if np.ndim(passed) == 2 else passed
    return darker, passed, look, seed


def frame(name, minute, ev100, rig="bare", **more):
    known = RIGS[rig]
    return {
        "frame": name,
        "captured_at": str(START + pd.Timedelta(minutes=minute)),
        "ev100": ev100,
        "rig": rig,
        "declaration": known.state,
        "declaration_source": known.source,
        "filters": list(known.filters),
        "even_stops_min": known.even_stops[0],
        "even_stops_max": known.even_stops[1],
        "focal_length_mm": 16.0,
        **more,
    }


def looked_at(table, rows, predictions=None, **shots):
    return add_pixels(add_scenes(table(rows)), RIGS, predictions or {}, KIT, Pictures(**shots))


def test_a_filter_is_measured_between_two_pictures(table):
    rows = [frame("a", 0, 12.0), frame("b", 1, 6.0, "n6"), frame("c", 2, 12.0)]
    shown = looked_at(table, rows, a=shot(), b=shot(0.4), c=shot())
    row = shown.frames.iloc[1]
    assert row["pair_with"] in ("a", "c")
    assert row["strength_filter"] == "n6"
    assert row["strength_stops"] == pytest.approx(6.4, abs=0.12)
    assert row["strength_err_stops"] <= row["strength_light_err_stops"] < 1
    assert row["strength_verdict"] == "as declared"
    n6 = next(f for f in shown.filters if f.filter == "n6")
    assert (n6.pairs, n6.frames, n6.scenes) == (1, ("b",), 1)
    assert n6.stops == pytest.approx(6.4, abs=0.12)
    assert shown.evidence["b"].against == row["pair_with"]


def test_a_phone_is_measured_near_and_refused_far(table):
    small = {"sensor_width_mm": 9.8, "sensor_height_mm": 7.3}
    rows = [
        frame("a", 0, 12.0, **small),
        frame("b", 1, 6.0, "n6", **small),
        frame("c", 2, 6.0, "n6", **small),
    ]
    frames = looked_at(table, rows, a=shot(), b=shot(0.1), c=shot(1.2)).frames
    near, far = frames.iloc[1], frames.iloc[2]
    assert near["strength_stops"] == pytest.approx(6.1, abs=0.2)
    assert near["pair_err_stops"] > 0.15
    assert "as small as a phone's" in far["pair_why"]
    assert np.isnan(far["strength_stops"])


def test_what_the_sun_does_meanwhile_is_taken_out(table):
    rows = [frame("a", 0, 8.0, sky_ev100=8.5), frame("b", 4, 0.8, "n6", sky_ev100=7.3)]
    known = looked_at(table, rows, a=shot(), b=shot()).frames.iloc[1]
    blind = looked_at(table, [{**r, "sky_ev100": None} for r in rows], a=shot(), b=shot()).frames.iloc[1]
    assert known["strength_stops"] == pytest.approx(6.0, abs=0.15)
    assert blind["strength_stops"] == pytest.approx(7.2, abs=0.15)


def test_a_six_declared_as_a_ten_is_off(table):
    rows = [frame("a", 0, 12.0), frame("b", 1, 6.0, "n10"), frame("c", 2, 12.0)]
    row = looked_at(table, rows, a=shot(), b=shot(), c=shot()).frames.iloc[1]
    assert row["strength_verdict"] == "off"
    assert row["strength_stops"] == pytest.approx(6.0, abs=0.15)


def test_what_cannot_be_measured_says_why(table):
    rows = [
        frame("a", 0, 12.0),
        frame("g", 1, 11.0, "g2"),
        frame("far", 2, 12.0, "n6"),
        frame("other", 3, 6.0, "n6"),
        frame("blind", 4, 6.0, "n6"),
        frame("guess", 5, 6.0, "guess"),
    ]
    pictures = {
        "a": shot(),
        "g": shot(),
        "far": shot(6.0),
        "other": shot(look="moor", seed=5),
        "guess": shot(),
    }
    shown = looked_at(table, rows, **pictures).frames.set_index("frame")
    assert "grad" in shown.loc["g", "strength_why"]
    assert "grad" in shown.loc["g", "shown_loss_why"]
    assert shown.loc["far", "pair_why"]
    assert shown.loc["other", "pair_why"]
    assert shown.loc["blind", "pixel_why"] == "no preview"
    assert shown.loc[["far", "other", "blind", "guess"], "strength_stops"].isna().all()
    assert pd.isna(shown.loc["guess", "pair_with"])


def test_corners_that_the_rig_cut_are_measured_and_held_against_the_prediction(table):
    passed = cut_by(standard())
    loss = -np.log2(np.maximum(corner_map(VIEW, standard()), 2.0**-10))
    right = Prediction(53.0, 1.0, 1.0, loss, loss, loss, (50.0,) * 5, "ring", ())
    none = np.zeros_like(loss)
    clear = Prediction(53.0, 1.0, 1.0, none, none, none, (90.0,) * 5, "ring", ())
    rows = [
        frame("a", 0, 12.0),
        frame("b", 1, 12.0, "empty", corner="right"),
        frame("c", 2, 12.0, "empty", corner="clear"),
        frame("d", 3, 12.0, "empty", corner="right"),
    ]
    pictures = {"a": shot(), "b": shot(passed=passed), "c": shot(passed=passed), "d": shot()}
    shown = looked_at(table, rows, {"right": right, "clear": clear}, **pictures)
    out = shown.frames.set_index("frame")
    assert out.loc["b", "shown_loss_stops"] > 0.3
    assert pd.isna(out.loc["b", "contradiction"])
    assert "something more was in front" in out.loc["c", "contradiction"]
    assert "the rig was not on" in out.loc["d", "contradiction"]
    darker = shown.evidence["b"].darker
    assert np.nanmin([darker[0, 0], darker[0, -1], darker[-1, 0], darker[-1, -1]]) > 0.3
    assert abs(np.nanmedian(darker)) < 0.1


def test_a_ring_left_on_shows_between_two_frames_declared_bare(table):
    none = np.zeros((41, 61))
    bare = Prediction(53.0, 0.0, 0.0, none, none, none, (90.0,) * 5, "", ())
    rows = [frame("a", 0, 12.0, corner="bare"), frame("b", 1, 12.0, corner="bare")]
    shown = looked_at(table, rows, {"bare": bare}, a=shot(), b=shot(passed=cut_by(standard())))
    out = shown.frames.set_index("frame")
    assert "a ring or a holder was still on" in out.loc["b", "contradiction"]
    assert pd.isna(out.loc["a", "contradiction"])


def test_the_order_of_rows_does_not_matter(table):
    rows = [frame("a", 0, 12.0), frame("b", 1, 6.0, "n6"), frame("c", 2, 12.0)]
    pictures = {"a": shot(), "b": shot(0.2), "c": shot()}
    forth = looked_at(table, rows, **pictures).frames.set_index("frame").sort_index()
    back = looked_at(table, rows[::-1], **pictures).frames.set_index("frame").sort_index()
    assert forth["strength_stops"].equals(back["strength_stops"])


@pytest.mark.parametrize(
    ("orientation", "upright"),
    [
        (1, "top"),
        (2, "top"),
        (3, "bottom"),
        (4, "bottom"),
        (5, "left"),
        (6, "left"),
        (7, "right"),
        (8, "right"),
    ],
)
def test_thirds_are_those_of_the_upright_picture(orientation, upright):
    """Row 0 and column 0 as EXIF 2.32 names them for each orientation."""
    stored = np.zeros((3, 3))
    place = {"top": np.s_[0, :], "bottom": np.s_[2, :], "left": np.s_[:, 0], "right": np.s_[:, 2]}[upright]
    stored[place] = 1.0
    assert thirds(stored, orientation) == (1.0, 0.0, 0.0)


def test_comparisons_that_are_kept_are_those_made_anew(table, tmp_path, monkeypatch):
    rows = [frame("a", 0, 12.0), frame("b", 1, 6.0, "n6"), frame("c", 2, 12.0), frame("d", 3, 2.0, "n10")]
    shots = {"a": shot(), "b": shot(0.4), "c": shot(), "d": shot(0.1, seed=4)}

    def looked(cache, **more):
        pictures, place = Pictures(**(shots | more)), cache and tmp_path / cache
        return add_pixels(add_scenes(table(rows)), RIGS, {}, KIT, pictures, cache=place)

    plain, first = looked(None), looked("pixels.sqlite")
    with monkeypatch.context() as patch:
        patch.setattr(kept_pairs, "against", None)
        again = looked("pixels.sqlite")
    for other in (first, again):
        pd.testing.assert_frame_equal(plain.frames, other.frames)
        assert repr(plain.filters) == repr(other.filters) and plain.evidence.keys() == other.evidence.keys()
        for name, one in plain.evidence.items():
            assert np.array_equal(one.darker, other.evidence[name].darker, equal_nan=True)
    assert plain.frames["pair_why"].notna().any() and len(plain.evidence)
    changed = {"b": shot(1.2)}
    pd.testing.assert_frame_equal(looked("pixels.sqlite", **changed).frames, looked(None, **changed).frames)


def test_other_values_are_no_comparison():
    sound = {"shift_px": [0.0, 1.0], "four": [0.0] * 4, "words": "", "shape": [], "darker": b""}
    for part, names in kept_pairs._NUMBERS.items():
        sound |= {f"{part} {name}": 1.0 for name in names} | {f"{part} why": ""}
    assert kept_pairs._sound(wire.packed(sound)) is not None
    wrong = {
        "shift_px": [0.0],
        "four": [0.0, 1, 0.0, 0.0],
        "words": None,
        "shape": [1, 1],
        "darker": b"8" * 8,
    }
    wrong |= {"pair stops": "1", "cast why": 1}
    for name, value in wrong.items():
        assert kept_pairs._sound(wire.packed(sound | {name: value})) is None
    assert kept_pairs._sound(wire.packed(sound | {"shape": [-1, -1], "darker": b"8" * 8})) is None
    assert kept_pairs._sound(b"noise") is None
