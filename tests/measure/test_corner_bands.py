"""The verdict on a frame's corner: a band, never a bare yes."""

import numpy as np
import pytest

from audit.measure import add_corners
from audit.measure.corners import CLEAR_STOPS, CUT_STOPS, limit_radii_mm, predict
from audit.model.kit import Kit, Lens
from audit.model.rig import Opening, Rig
from audit.optics.corners import circle_transmission, loss_stops

HALF_DIAGONAL_MM = 21.633
RING = Opening("ring bore", 74.0, 4.0, ("ring bore 74 mm",))
HOLDER = Opening("holder bore", 86.0, 11.0)
KNOWN = Lens(id="w16", focal_mm=(16, 35), pupil_depth_mm=25, pupil_depth_err_mm=1)


def test_long_lenses_are_clear_and_very_wide_ones_cut():
    assert predict((RING, HOLDER), 50, 8, HALF_DIAGONAL_MM, KNOWN).verdict == "clear"
    assert predict((RING, HOLDER), 12, 8, HALF_DIAGONAL_MM, KNOWN).verdict == "cut"


def test_between_them_lies_at_risk_and_a_known_depth_narrows_it():
    def risky(lens):
        focal = np.arange(12, 40, 0.25)
        return sum(predict((RING, HOLDER), f, 8, HALF_DIAGONAL_MM, lens).verdict == "at risk" for f in focal)

    assert 0 < risky(KNOWN) < risky(None)


def test_the_band_holds_the_plain_closed_form_at_every_depth_inside_it():
    for focal in np.arange(12, 30, 1.0):
        band = predict((RING,), focal, 8, HALF_DIAGONAL_MM, None)
        for depth in (20, 25, 32):
            plain = float(
                loss_stops(circle_transmission(HALF_DIAGONAL_MM / focal, focal / 16, 37, depth + 4))
            )
            assert band.loss_min_stops <= plain <= band.loss_max_stops or np.isinf(plain)
        assert (band.verdict == "clear") == (band.loss_max_stops < CLEAR_STOPS)
        assert (band.verdict == "cut") == (band.loss_min_stops >= CUT_STOPS)


def test_the_opening_that_limits_is_named_and_assumptions_are_told():
    band = predict((RING, HOLDER), 18, 8, HALF_DIAGONAL_MM, None)
    assert band.why == "holder bore"
    assert "ring bore 74 mm" in band.assumed
    assert predict((RING,), 18, 8, HALF_DIAGONAL_MM, KNOWN).assumed == ("ring bore 74 mm",)


def test_circles_of_the_diagram_agree_with_the_verdict():
    for focal in np.arange(13, 30, 0.5):
        band = predict((RING,), focal, 8, HALF_DIAGONAL_MM, None)
        worst, best = limit_radii_mm((RING,), focal, 8, None, CUT_STOPS)
        assert worst < best
        assert (best <= HALF_DIAGONAL_MM) == (band.verdict == "cut")


@pytest.fixture
def rigs():
    return {
        "bare": Rig("bare", "bare"),
        "r": Rig("worn", "77 mm standard ring", ring="r77", ring_kind="standard", openings=(RING, HOLDER)),
    }


def test_what_cannot_be_said_is_said_with_its_reason(table, rigs):
    worn = {"declaration": "worn", "rig": "r"}
    out = add_corners(
        table(
            [
                {**worn, "focal_length_mm": 16.0},
                {"focal_length_mm": 16.0},
                {**worn, "focal_length_mm": None},
                {**worn, "f_number_exact": None, "sensor_width_mm": None},
                {"declaration": "undeclared", "rig": None},
                {"problem": "empty", "declaration": "undeclared", "rig": None},
            ]
        ),
        rigs,
        Kit(),
    )
    assert out["corner_verdict"].tolist() == ["at risk", "clear", *["not measurable"] * 4]
    assert out["corner_why"].tolist()[1:] == [
        "nothing in front of the lens",
        "focal length unknown",
        "f-number unknown; sensor size unknown",
        "the rig is undeclared",
        "the file could not be read",
    ]
    assert out["rule_verdict"].tolist()[:2] == ["not fine", "silent"]


def test_smaller_sensor_at_the_same_focal_length_is_safer(rigs, table):
    row = {"declaration": "worn", "rig": "r", "focal_length_mm": 18.0}
    out = add_corners(table([row, {**row, "sensor_width_mm": 23.5, "sensor_height_mm": 15.6}]), rigs, Kit())
    assert out["corner_verdict"].tolist() == ["at risk", "clear"]
