"""Which pictures the general tone curve is trusted for, and which curve a frame gets."""

import brackets
import numpy as np
import pandas as pd
import pytest

from audit.optics.response import COEFFICIENTS, GENERAL, Curve
from audit.pixels.curves import camera_curves
from audit.pixels.processing import DOUBTED, Curves, kind_of
from audit.pixels.shrink import RAW
from audit.pixels.sketch import Sketch

PHONE = {"sensor_width_mm": 9.8, "sensor_height_mm": 7.3}
START = pd.Timestamp("2026-05-02 10:00:00")


def kind(table, **row):
    return kind_of(table([row]).to_dict("records")[0])


def sketch(grey, source="embedded preview"):
    nothing = np.zeros((3, 3))
    return Sketch(grey, np.zeros((1, 1, 3), np.uint8), nothing, nothing, source, 480, 320, False)


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ({}, "camera"),
        ({"sensor_width_mm": None, "sensor_height_mm": None}, "camera"),
        ({"sensor_width_mm": 13.2, "sensor_height_mm": 8.8}, "camera"),
        ({"formats": "NEF"}, "camera"),
        ({"formats": "JPEG+NEF", "composite": False}, "camera"),
        (PHONE, "small"),
        ({"composite": True}, "composite"),
        ({"formats": "TIFF"}, "format"),
        ({"formats": "HEIF+DNG"}, "format"),
        ({"notes_about": ["", "picture size"]}, "edited"),
    ],
)
def test_what_a_row_tells_of_its_picture(table, row, told):
    assert kind(table, **row) == told


def test_a_raw_developed_here_has_the_general_curve_exactly(table):
    own = Curve(COEFFICIENTS, 0.03, 500)
    curves = Curves({("Brattholm Tarn", "camera"): own})
    phone, camera = table([PHONE, {}]).to_dict("records")
    grey = np.full((20, 30), 90, np.uint8)
    assert curves.of(camera) == curves.of(camera, sketch(grey)) == own
    assert curves.of(phone, sketch(grey)) == DOUBTED["small"]
    assert curves.of(phone, sketch(grey, RAW)) == curves.of(camera, sketch(grey, RAW)) == GENERAL


def series(table, count, phone=None, **more):
    """Frames of so many brackets of five steps, and what gives their pictures."""
    rows, pictures = [], {}
    for number in range(count):
        made = brackets.shots("crisp", 860 + number, [-2.0, -1.0, 0.0, 1.0, 2.0], phone=phone)
        for step, (grey, ev) in enumerate(made):
            name = f"b{number}{step}"
            pictures[name] = sketch(grey)
            rows.append({"frame": name, "bracket": f"b{number}", "ev100": 12 + ev, **more})
    return table(rows), lambda row: pictures[row["frame"]]


def test_one_bracket_is_enough_for_a_camera_and_two_for_a_phone(table):
    for count, more, own in ((1, {}, True), (1, PHONE, False), (2, PHONE, True)):
        curves, told = camera_curves(*series(table, count, **more))
        assert [one.own for one in told] == [own] == [bool(curves.fitted)]
        assert bool(told[0].doubt) == (not own)
        assert told[0].farthest_stops == (3.25 if own else 0.5)


def test_pictures_made_of_several_exposures_never_have_a_curve(table):
    curves, told = camera_curves(*series(table, 2, composite=True))
    assert not curves.fitted
    assert told[0].doubt == "the camera made the picture of several exposures"


def test_kinds_of_pictures_of_one_camera_are_told_apart(table):
    camera, of_camera = series(table, 1)
    edited, of_edited = series(table, 1, notes_about=["picture size"])
    edited["frame"] = "e" + edited["frame"]
    frames = pd.concat([camera, edited], ignore_index=True)

    def look(row):
        return of_edited({"frame": row["frame"][1:]}) if row["frame"][0] == "e" else of_camera(row)

    curves, told = camera_curves(frames, look)
    assert list(curves.fitted) == [("Brattholm Tarn", "camera")]
    assert [(one.own, bool(one.doubt)) for one in told] == [(True, False), (False, True)]
