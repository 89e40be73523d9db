"""The verdict on a frame's corner: a band, never a bare yes."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.corners.band import ErrorSource
from audit.corners.predict import Geometry, parts_of, predict, pupil_of
from audit.corners.prediction import CLEAR_STOPS, CUT_STOPS
from audit.declare.rig import Opening, Rails, Rig
from audit.kit.kit import Lens
from audit.optics.corners import Circle, Rectangle
from audit.optics.distortion import Distortion

RING = Opening("ring bore", 74.0, 4.0, ("bore of ring r77",))
HOLDER = Opening("holder bore", 86.0, 11.0)
RIG = Rig("worn", "77 mm ring, holder", openings=(RING, HOLDER))
BARE = Rig("bare", "bare lens")
KNOWN = Lens(id="w16", focal_mm=(16, 35), pupil_depth_mm=25, pupil_depth_err_mm=1)
FULL = Geometry(18.0, 8.0, 36.0, 24.0)


def at(focal_mm, lens=None, rig=RIG, **changes):
    return predict(rig, replace(FULL, focal_length_mm=focal_mm, **changes), lens)


def test_long_lenses_are_clear_and_very_wide_ones_cut():
    assert at(50).verdict == "clear"
    assert at(11).verdict == "cut"


def test_between_them_lies_at_risk_and_a_known_depth_narrows_it():
    focal = np.arange(12, 40, 1.0)
    unsure, surer = ([at(f, lens).verdict for f in focal].count("at risk") for lens in (None, KNOWN))
    assert 0 < surer < unsure


def test_a_calibrated_drift_and_a_known_distortion_narrow_the_band():
    drift = KNOWN.model_copy(update={"pupil_drift_mm": 3.0})
    plain = Distortion.from_percent(0.0, 21.63)
    widths = [
        made.early_deg + made.late_deg
        for made in (at(18), at(18, KNOWN), at(18, drift), at(18, drift, distortion=plain))
    ]
    assert widths == sorted(widths, reverse=True)
    assert len(set(widths)) == 4


@settings(max_examples=25, deadline=None)
@given(st.floats(11, 40), st.sampled_from([2.8, 8.0, 16.0]))
def test_the_band_is_ordered_and_the_verdict_follows_it(focal, f_number):
    made = at(focal, f_number=f_number)
    assert made.loss_min_stops <= made.loss_stops <= made.loss_max_stops
    assert (made.verdict == "clear") == (made.loss_max_stops < CLEAR_STOPS)
    assert (made.verdict == "cut") == (made.loss_min_stops >= CUT_STOPS)
    assert made.middle.shape == (41, 61)


def test_the_opening_that_limits_is_named_and_what_was_assumed_for_it():
    made = at(18)
    assert made.limits == "holder bore"
    assert made.assumed == ("pupil depth of the lens",)
    alone = at(18, KNOWN, rig=Rig("worn", "ring", openings=(RING,)))
    assert alone.assumed == ("bore of ring r77",)


def test_nothing_before_the_lens_is_clear_whatever_is_unknown():
    made = at(8, rig=BARE)
    assert (made.verdict, made.loss_max_stops, made.limits, made.onset_deg) == ("clear", 0.0, "", 90.0)


def test_a_smaller_sensor_at_the_same_focal_length_is_safer():
    assert at(18).verdict == "at risk"
    assert at(18, width_mm=23.5, height_mm=15.6).verdict == "clear"


def test_shutter_and_iso_do_not_enter():
    assert set(Geometry.__dataclass_fields__) == {
        "focal_length_mm",
        "f_number",
        "width_mm",
        "height_mm",
        "sensor_err",
        "distance_m",
        "distortion",
        "corrected",
        "paraxial_mm",
    }


def test_a_near_subject_narrows_the_field():
    assert at(16, distance_m=0.3).angle_deg < at(16).angle_deg


def test_barrel_distortion_widens_the_field_of_a_raw_and_half_of_it_a_jpeg():
    barrel = Distortion.from_percent(-4.0, 21.63)
    raw = at(16, distortion=barrel, corrected=False).angle_deg
    jpeg = at(16, distortion=barrel).angle_deg
    corrected = at(16, distortion=barrel, corrected=True).angle_deg
    assert corrected < jpeg < raw
    assert corrected == pytest.approx(at(16).angle_deg)


def test_clockwise_turns_become_turns_from_x_towards_y_here_only():
    rig = Rig("worn", "holder", rails=(Rails("holder", 90.0, 17.0, 30.0, ("clear width of holder",)),))
    (part,) = parts_of(rig)
    assert part == ErrorSource(Rectangle(90.0, 1000.0, 17.0, -30.0), 1.0, 0.3)
    (stored_upright,) = parts_of(rig, upright=True)
    assert stored_upright.opening.turned_deg == 60.0


def test_turned_rails_cut_two_opposite_corners():
    rig = Rig("worn", "holder", rails=(Rails("holder", 80.0, 20.0, 30.0),))
    top_left, top_right, bottom_left, bottom_right = (m for _, m, _ in at(17, rig=rig).corner_stops)
    # Turned clockwise, the right rail comes down onto the bottom right, the left one up to the top left.
    assert top_left > top_right
    assert bottom_right > bottom_left
    assert top_left == pytest.approx(bottom_right)


def test_a_raised_lens_loses_the_upper_corners_first():
    rig = replace(RIG, shift_mm=(0.0, 6.0))
    corners = [middle for _, middle, _ in at(19, rig=rig).corner_stops]
    assert min(corners[:2]) > max(corners[2:])


def test_an_upright_picture_of_a_shifted_lens_is_judged_by_the_worse_side():
    rig = replace(RIG, shift_mm=(0.0, 6.0))
    upright = at(19, rig=rig, width_mm=24.0, height_mm=36.0)
    assert upright.loss_max_stops == pytest.approx(at(19, rig=rig).loss_max_stops)


def test_errors_of_an_opening_move_it_both_ways():
    part = ErrorSource(Circle(37.0, 4.0), 0.5, 1.0)
    assert part.moved(-1) == Circle(36.5, 5.0)
    assert part.moved(1) == Circle(37.5, 3.0)


def test_the_pupil_has_the_calibrated_drift_where_there_is_one():
    lens = KNOWN.model_copy(update={"pupil_drift_mm": 3.0})
    assert pupil_of(FULL, lens.pupil_at(18)).drift_mm == 3.0
    assert pupil_of(FULL, KNOWN.pupil_at(18)).drift_mm != 3.0


def test_rails_that_cut_first_are_named():
    rig = replace(RIG, rails=(Rails("holder", 82.0, 24.0),))
    assert at(15, rig=rig, height_mm=14.0).limits == "rails of holder"


@settings(max_examples=20, deadline=None)
@given(st.floats(70, 95), st.floats(10, 30), st.floats(-90, 90), st.floats(12, 24))
def test_no_side_is_cut_before_a_corner(width, distance, turn, focal):
    rig = Rig("worn", "holder", rails=(Rails("holder", width, distance, turn),))
    made = at(focal, rig=rig).middle
    sides = [made[0, 30], made[-1, 30], made[20, 0], made[20, -1]]
    assert max(sides) <= max(made[0, 0], made[0, -1], made[-1, 0], made[-1, -1]) + 1e-6


def test_glass_puts_off_the_cut_and_an_unknown_thickness_widens_the_band():
    bare = at(17, KNOWN)
    glazed = at(17, KNOWN, Rig("worn", "", openings=(RING, replace(HOLDER, glass_mm=2.0))))
    known = [replace(part, glass_mm=2.0) for part in (RING, HOLDER)]
    unknown = [replace(part, assumed_glass=("thickness of filter n6",)) for part in known]
    one, other = (at(17, KNOWN, Rig("worn", "", openings=tuple(parts))) for parts in (known, unknown))
    assert bare.angles_deg[0] < glazed.angles_deg[0] <= one.angles_deg[0]
    assert (other.angles_deg, other.loss_stops) == (one.angles_deg, one.loss_stops)
    assert other.early_deg > one.early_deg and other.late_deg > one.late_deg
    assert "thickness of filter n6" in other.assumed


@pytest.mark.parametrize("loose", [{"across_err_mm": 0.5}, {"along_err_mm": 0.75}])
def test_a_loose_holder_widens_the_band_and_moves_nothing(loose):
    firm, moved = (
        at(
            17,
            KNOWN,
            Rig("worn", "", openings=(replace(HOLDER, **more),), rails=(Rails("h", 90, 17, **more),)),
        )
        for more in ({}, loose)
    )
    assert (moved.angles_deg, moved.loss_stops) == (firm.angles_deg, firm.loss_stops)
    assert moved.early_deg > firm.early_deg and moved.late_deg > firm.late_deg
