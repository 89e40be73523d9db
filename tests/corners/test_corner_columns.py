"""The corner columns of the table: one prediction a combination, and reasons where there is none."""

import numpy as np
import pytest

from audit.corners.verdict import add_corners
from audit.declare.rig import Opening, Rig
from audit.kit.kit import Kit
from audit.optics.distortion import Distortion
from audit.optics.falloff import Falloff

RIGS = {
    "bare": Rig("bare", "bare lens"),
    "r": Rig(
        "worn",
        "77 mm ring, holder",
        ring="r77",
        ring_kind="standard",
        openings=(Opening("ring bore", 74.0, 4.0), Opening("holder bore", 85.0, 11.0)),
    ),
}
WORN = {"declaration": "worn", "rig": "r", "width_px": 6000, "height_px": 4000, "orientation": 1}


class Data:
    source = "an invented lens (its licence)"
    measured = ("constant",)

    def distortion(self, focal_length_mm):
        return Distortion.from_percent(-3.0, 21.63)

    def paraxial_focal_mm(self, focal_length_mm):
        return focal_length_mm

    def falloff(self, focal_length_mm, f_number, distance_m):
        return Falloff(-0.5, 0.0, 0.0, 21.64)


def test_what_cannot_be_said_is_said_with_its_reason(table):
    out, made = add_corners(
        table(
            [
                {**WORN, "focal_length_mm": 16.0},
                {"focal_length_mm": 16.0},
                {**WORN, "focal_length_mm": None},
                {**WORN, "f_number_exact": None, "sensor_width_mm": None},
                {"declaration": "undeclared", "rig": None},
                {"declaration": "no-neutral", "rig": "n"},
                {"problem": "empty", "declaration": "undeclared", "rig": None},
            ]
        ),
        RIGS,
        Kit(),
        {},
    )
    assert out["corner_verdict"].tolist() == ["at risk", "clear", *["not measurable"] * 5]
    assert out["corner_why"].tolist()[1:] == [
        "nothing in front of the lens",
        "focal length unknown",
        "f-number unknown; sensor size unknown",
        "the rig is undeclared",
        "of the rig it is only known that no neutral was on",
        "the file could not be read",
    ]
    assert out["rule_verdict"].tolist()[:2] == ["not fine", "silent"]
    assert set(made) == set(out["corner"].dropna())


def test_equal_combinations_share_a_prediction_whatever_shutter_and_iso(table):
    row = {**WORN, "focal_length_mm": 16.0}
    out, made = add_corners(
        table([row, {**row, "iso": 800.0, "exposure_time_s": 30.0}, {**row, "f_number_exact": 16.0}]),
        RIGS,
        Kit(),
        {},
    )
    assert out["corner"].tolist() == ["C1", "C1", "C2"]
    assert len(made) == 2


def test_a_clean_crop_is_given_where_the_frame_is_not_clear(table):
    out, _ = add_corners(
        table([{**WORN, "focal_length_mm": 13.0}, {**WORN, "focal_length_mm": 50.0}]), RIGS, Kit(), {}
    )
    left, top, width, height = map(int, out["clean_crop"].iloc[0].split(","))
    assert 0 < left < 3000
    assert left + width <= 6000
    assert top + height <= 4000
    assert width / height == pytest.approx(1.5, abs=0.01)
    assert out["clean_crop_share"].iloc[0] == pytest.approx(width * height / 24e6, abs=0.001)
    assert out["clean_crop"].isna().tolist() == [False, True]


def test_natural_falloff_stands_beside_the_loss_and_is_not_added(table):
    row = {**WORN, "make": "Brattholm", "focal_length_mm": 50.0}
    key = ("Brattholm", "Brattholm Tarn", "Sund 16-35 mm f4")
    out, _ = add_corners(table([row]), RIGS, Kit(), {key: Data()})
    assert out["natural_falloff_stops"].iloc[0] == pytest.approx(1.0, abs=0.01)
    assert out["natural_falloff_source"].iloc[0] == Data.source
    assert out["corner_loss_max_stops"].iloc[0] == 0.0


def test_the_kits_distortion_comes_before_the_data(table):
    row = {**WORN, "make": "Brattholm", "focal_length_mm": 16.0, "lens_id": "w16", "formats": "NEF"}
    key = ("Brattholm", "Brattholm Tarn", "Sund 16-35 mm f4")
    kit = Kit.model_validate({"lens": [{"id": "w16", "focal_mm": [16, 35], "distortion_percent": [0, 1]}]})
    angles = [
        add_corners(table([row]), RIGS, k, {key: Data()})[0]["corner_angle_deg"].iloc[0] for k in (kit, Kit())
    ]
    assert angles[0] == pytest.approx(np.degrees(np.arctan(21.633 / 16)), abs=0.01)
    assert angles[1] > angles[0] + 0.5
