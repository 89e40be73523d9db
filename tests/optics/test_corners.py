"""The corner model against closed forms, an independent ray sampler and ray-traced lenses."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from audit.demo.rays import Box, Bundle, Pane, Round, unobstructed
from audit.optics.corners import Circle, Pupil, Rectangle, default_pupil, loss_stops, transmission
from audit.optics.onset import field_angle_at_loss, outward, tangent_at_loss

SHARED = Path(__file__).parents[3] / "shared" / "reference"


def overlap(r, big, d):
    """Share of a circle r inside a circle R at distance d: MathWorld, Circle-Circle Intersection, eq. 14."""
    if d >= r + big:
        return 0.0
    if d <= abs(big - r):
        return min(1.0, big**2 / r**2)
    a = r**2 * math.acos((d * d + r * r - big * big) / (2 * d * r))
    b = big**2 * math.acos((d * d + big * big - r * r) / (2 * d * big))
    kite = math.sqrt((-d + r + big) * (d + r - big) * (d - r + big) * (d + r + big)) / 2
    return (a + b - kite) / (math.pi * r * r)


pupils = st.builds(
    Pupil,
    focal_length_mm=st.floats(10, 60),
    f_number=st.floats(1.4, 22),
    depth_mm=st.floats(10, 40),
    radial_growth=st.floats(0, 2),
    tangential_growth=st.floats(0, 0.6),
    drift_mm=st.floats(-2, 15),
)
circles = st.builds(Circle, st.floats(15, 50), st.floats(0, 40), st.floats(-3, 3), st.floats(-3, 3))
rectangles = st.builds(
    Rectangle,
    st.floats(30, 110),
    st.floats(30, 200),
    st.floats(5, 40),
    st.floats(-180, 180),
    st.floats(-3, 3),
    st.floats(-3, 3),
)
rigs = st.lists(st.one_of(circles, rectangles), min_size=1, max_size=4)
tangents = st.tuples(st.floats(-1.8, 1.8), st.floats(-1.5, 1.5))


@given(st.floats(0.5, 6), st.floats(8, 45), st.floats(20, 60), st.floats(0, 2))
def test_plain_pupil_is_the_overlap_of_two_circles(r, big, reach, tan):
    pupil = Pupil(16 * r, 8, reach)
    assert transmission(tan, 0.0, pupil, [Circle(big, 0)])[()] == pytest.approx(
        overlap(r, big, reach * tan), abs=0.002
    )


def test_known_case_half_and_black():
    # 36x24, f/8, R = 37, L = 29: T .497 at tan = R/L, not .5; black at (R + D/2)/L.
    pupil, ring = Pupil(16.96, 8, 29), [Circle(37, 0)]
    assert float(transmission(37 / 29, 0, pupil, ring)) == pytest.approx(0.497, abs=0.001)
    assert tangent_at_loss(math.inf, pupil, ring) == pytest.approx((37 + 1.06) / 29, abs=1e-3)


def test_widest_clear_focal_length_in_closed_form():
    # Onset where tan = (R - r)/L; r = f/16: f (37/29 - f/(16 29)) = 21.633, solved by hand: 17.47 mm.
    def clear(focal):
        return float(transmission(21.633 / focal, 0, Pupil(focal, 8, 29), [Circle(37, 0)])) == 1.0

    focal = np.arange(16, 20, 0.01)
    assert next(f for f in focal if clear(f)) == pytest.approx(17.47, abs=0.011)


@settings(max_examples=1000, deadline=None)
@given(pupils, rigs, tangents)
@example(Pupil(43.0, 1.40625, 10.0, 0.0, 0.0, 0.0), [Circle(15.0, 0.0, 0.0, 0.0)], (0.0, 2.06e-162))
def test_agrees_with_rays_within_their_noise(pupil, rig, tan):
    """1,000 random rigs against the simulator's rays, which share no code with the model."""
    bundle = Bundle(**vars(pupil))
    same = [
        Round(o.radius_mm, o.distance_mm, o.x_mm, o.y_mm)
        if isinstance(o, Circle)
        else Box(o.width_mm, o.height_mm, o.distance_mm, o.turned_deg, o.x_mm, o.y_mm)
        for o in rig
    ]
    rays = float(unobstructed(*tan, bundle, same, rays=4096))
    assert float(transmission(*tan, pupil, rig)) == pytest.approx(rays, abs=0.02)


@given(pupils, rigs, tangents)
def test_stopping_down_never_loses_more_on_the_axis_and_larger_openings_never_lose_more(pupil, rig, tan):
    wider = [
        replace(o, radius_mm=o.radius_mm + 2)
        if isinstance(o, Circle)
        else replace(o, width_mm=o.width_mm + 2, height_mm=o.height_mm + 2)
        for o in rig
    ]
    assert float(transmission(*tan, pupil, wider)) >= float(transmission(*tan, pupil, rig)) - 0.004


@given(pupils, rectangles, tangents)
def test_turning_a_rectangle_by_half_changes_nothing(pupil, box, tan):
    turned = replace(box, turned_deg=box.turned_deg + 180)
    assert float(transmission(*tan, pupil, [box])) == pytest.approx(
        float(transmission(*tan, pupil, [turned])), abs=1e-9
    )


@given(pupils, rigs)
def test_a_mirrored_rig_gives_a_mirrored_map(pupil, rig):
    x, y = np.meshgrid(np.linspace(-1.3, 1.3, 9), np.linspace(0.9, -0.9, 7))
    mirrored = [
        replace(o, x_mm=-o.x_mm, turned_deg=-o.turned_deg)
        if isinstance(o, Rectangle)
        else replace(o, x_mm=-o.x_mm)
        for o in rig
    ]
    np.testing.assert_allclose(
        transmission(x, y, pupil, rig)[:, ::-1], transmission(x, y, pupil, mirrored), atol=1e-9
    )


def test_shapes_nan_and_no_opening():
    pupil = default_pupil(16, 8, 25)
    assert transmission(np.zeros((3, 1)), np.zeros(4), pupil, [Circle(37, 4)]).shape == (3, 4)
    assert np.isnan(transmission(np.nan, 0.0, pupil, [Circle(37, 4)]))
    assert transmission(9.0, 9.0, pupil, []) == 1.0
    assert transmission(0.0, 0.0, Pupil(16, 2, 25), [Circle(2, 4)]) == pytest.approx(0.25, abs=0.01)


@pytest.mark.parametrize("turned", [0.0, 20.0, 45.0, 90.0, 131.0])
def test_edges_that_lie_along_the_field_are_cut_as_finely_as_any(turned):
    """Against rays, and without jumps when the edge passes over the bundle or the field turns."""
    pupil = default_pupil(28, 1.4, 25)
    direction = np.radians(np.linspace(0, 180, 91))
    x, y = 0.6 * np.cos(direction), 0.6 * np.sin(direction)
    for side in np.arange(-9.0, 10.0, 3.0):
        normal = np.radians(turned + 90)
        box = {"width_mm": 500, "height_mm": 60, "distance_mm": 12, "turned_deg": turned}
        box |= {"x_mm": (30 + side) * math.cos(normal), "y_mm": (30 + side) * math.sin(normal)}
        found = transmission(x, y, pupil, [Rectangle(**box)])
        rays = unobstructed(x, y, Bundle(**vars(pupil)), [Box(**box)], rays=65536)
        np.testing.assert_allclose(found, rays, atol=0.004)


def test_openings_may_come_from_a_generator_and_be_many():
    pupil, ring = default_pupil(16, 8, 25), Circle(37, 4)
    once = transmission([1.2, 1.25], 0.0, pupil, [ring])
    assert 0 < once[1] < once[0] < 1
    np.testing.assert_array_equal(transmission([1.2, 1.25], 0.0, pupil, (o for o in [ring])), once)
    np.testing.assert_array_equal(transmission([1.2, 1.25], 0.0, pupil, [ring] * 70), once)


@pytest.mark.filterwarnings("error")
def test_light_from_the_side_passes_no_opening():
    for pupil in (Pupil(16, 8, 25), default_pupil(16, 8, 25)):
        tangents = np.array([np.inf, -np.inf, 1e200])
        assert not transmission(tangents, 0.0, pupil, [Circle(37, 4)]).any()
        assert not transmission(tangents, tangents, pupil, [Rectangle(90, 1000, 17, 20)]).any()


def test_defaults_are_held_outside_what_was_traced():
    assert default_pupil(21.63 / 0.42, 8, 20).radial_growth == pytest.approx(0.35)
    assert default_pupil(21.63 / 0.70, 8, 20).tangential_growth == pytest.approx(0.56)
    assert default_pupil(200, 8, 20) == replace(default_pupil(60, 8, 20), focal_length_mm=200)
    assert default_pupil(10, 8, 20).drift_mm == pytest.approx(0.036 * 20)


def test_onset_is_where_the_loss_is():
    pupil, rig = default_pupil(16, 8, 25), [Circle(37, 4), Rectangle(90, 1000, 17)]
    for loss in (0.05, 0.1, 0.5, 1.0, 3.0):
        angle = field_angle_at_loss(loss, pupil, rig, (3, 2))
        tan = math.tan(math.radians(angle)) / math.hypot(3, 2)
        assert float(loss_stops(transmission(3 * tan, 2 * tan, pupil, rig))) == pytest.approx(loss, abs=0.02)
    assert field_angle_at_loss(0.5, pupil, []) == 90.0
    assert math.isinf(tangent_at_loss(0.5, pupil, []))


def test_outward_moves_along_the_field_and_stops_at_the_axis():
    x, y = outward(np.array([0.0, 3.0]), np.array([1.0, 4.0]), 5.0)
    assert math.degrees(math.atan(y[0])) == pytest.approx(50)
    assert x[1] / y[1] == pytest.approx(3 / 4)
    assert outward(np.array([0.01]), np.array([0.0]), -5.0)[0][0] == 0.0


# --- ray-traced lenses -------------------------------------------------------------------------------------


def traced():
    file = SHARED / "raytrace_dev.json"
    if not file.is_file():
        pytest.skip(f"no ray-traced reference at {file}")
    return json.loads(file.read_text())["cases"]


def openings_of(cut):
    return [
        Circle(o["R"], o["h"])
        if o["type"] == "circle"
        else Rectangle(o["W"], o["H"], o["h"], o["phi_to_field"])
        for o in cut["openings"]
    ]


def calibrates(cut):
    """Rings at 5 mm serve to calibrate and are never scored."""
    return (
        len(cut["openings"]) == 1 and cut["openings"][0]["type"] == "circle" and cut["openings"][0]["h"] == 5
    )


def onset_errors(cases, pupil_for):
    """Error in degrees of the field angle of 3 % loss; one that is missed counts as five."""
    errors = []
    for case in cases:
        for cut in case["obstructions"]:
            if not calibrates(cut) and cut.get("onset3pct_deg"):
                angle = field_angle_at_loss(-math.log2(0.97), pupil_for(case), openings_of(cut))
                errors.append(5.0 if angle >= 80 else angle - cut["onset3pct_deg"])
    return np.abs(errors)


def test_traced_lenses_with_defaults_at_the_paraxial_depth():
    def pupil_for(case):
        return default_pupil(
            case["focal_mm"], case["N"], case["zp_mm"], half_diagonal_mm=case["half_diagonal_mm"]
        )

    errors = onset_errors(traced(), pupil_for)
    assert errors.mean() <= 0.31
    assert np.percentile(errors, 95) <= 1.08


def test_traced_lenses_are_worse_served_by_a_plain_pupil():
    errors = onset_errors(traced(), lambda case: Pupil(case["focal_mm"], case["N"], case["zp_mm"]))
    assert errors.mean() > 0.6


# --- glass ---------------------------------------------------------------------------------------------


def test_glass_against_rays_bent_one_by_one():
    pupil = default_pupil(16, 8, 25)
    tangents = np.linspace(1.0, 1.5, 21)
    openings = [Circle(43, 11, glass_mm=2.0), Rectangle(110, 1000, 17, 20, glass_mm=6.0)]
    stack = [Round(43, 11), Box(110, 1000, 17, 20)]
    panes = [Pane(2.0, 8.0), Pane(2.0, 11.5), Pane(2.0, 14.0)]
    found = transmission(tangents, 0.4, pupil, openings)
    rays = unobstructed(tangents, 0.4, Bundle(**vars(pupil)), stack, panes, rays=65536)
    np.testing.assert_allclose(found, rays, atol=0.004)
    assert ((found > 0) & (found < 1)).sum() >= 4


@pytest.mark.parametrize(
    ("depth_mm", "opening", "one_deg", "three_deg"),
    [
        (29, (49, 24.9), 0.45, 1.39),  # the usual words of .45 and 1.4 degrees: a front ring, a deep pupil
        (25, (49, 24.9), 0.50, 1.55),
        (25, (43, 11.0), 0.71, 2.21),  # a holder's bore, were glass to lie behind it
    ],
)
def test_by_how_much_plates_of_2_mm_put_off_the_cut(depth_mm, opening, one_deg, three_deg):
    """16 mm, f/8, half a stop; what is nearer to the lens and cuts further out moves by more."""
    pupil = default_pupil(16, 8, depth_mm)
    bare, one, three = (
        field_angle_at_loss(0.5, pupil, [Circle(*opening, glass_mm=glass)]) for glass in (0.0, 2.0, 6.0)
    )
    assert (one - bare, three - bare) == pytest.approx((one_deg, three_deg), abs=0.02)
