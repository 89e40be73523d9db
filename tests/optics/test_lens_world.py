"""The tracer of benchmarks/lens_world against paraxial theory, symmetry and closed forms."""

import numpy as np
import pytest

from benchmarks.lens_world.footprints import middle
from benchmarks.lens_world.lenses import TUNE, UNSEEN, lenses
from benchmarks.lens_world.trace import Lens, Surface, prescriptions
from benchmarks.lens_world.truth import Frame, Hole, Plate, Tilt, follow, share

NAMES = sorted(prescriptions())
SPHERE = Surface(1 / 40, 0.0, 1.5)


@pytest.fixture(scope="module", params=NAMES)
def lens(request):
    return prescriptions()[request.param]


def test_rays_near_the_axis_meet_where_paraxial_theory_says(lens):
    focal, _, pupil = lens.paraxial()
    off, _, at = lens.follow(np.array([1e-3, -1e-3]), np.zeros(2), 0.0)
    back = lens.surfaces[-1].after_mm - lens.paraxial()[1]
    assert at[0] == pytest.approx(-1e-3 * back / focal, abs=1e-9)
    assert off[0] == pytest.approx(off[1])
    tilted = lens.follow(np.array([pupil * np.tan(np.radians(0.1))]), np.zeros(1), 0.1)
    assert tilted[0][0] < 2e-5
    assert -tilted[2][0] / np.tan(np.radians(0.1)) == pytest.approx(focal, abs=0.08)


def test_both_sides_of_the_meridian_are_alike(lens):
    at = middle(lens, np.array([30.0]))[0]
    x, y = at + np.array([0.0, 0.3, -0.3]), np.array([0.4, 0.2, 0.5])
    for one, other in zip(lens.follow(x, y, 30.0), lens.follow(x, -y, 30.0), strict=True):
        assert np.allclose(one, other, atol=1e-9)


def test_a_ray_bends_by_the_law_of_sines():
    surfaces = (SPHERE, Surface(0.0, 100.0, 1.5))
    height = 20.0
    at = Lens("one face", surfaces, 1, "assumed").follow(np.array([height]), np.zeros(1), 0.0)[2][0]
    angle = np.arcsin(height / 40)
    down = angle - np.arcsin(np.sin(angle) / 1.5)
    sag = 40 - np.sqrt(40**2 - height**2)
    assert at == pytest.approx(height - (100.0 - sag) * np.tan(down), abs=1e-9)


def test_a_conic_written_as_powers_is_the_same_surface():
    parabola = Surface(1 / 30, 5.0, 1.6, conic=-1.0)
    powers = Surface(0.0, 5.0, 1.6, powers=((2, 1 / 60),))
    rest = (Surface(0.0, 50.0, 1.0),)
    x, y = np.linspace(-8, 12, 9), np.linspace(0, 5, 9)
    one, other = (Lens("", (s, *rest), 1, "").follow(x, y, 20.0)[2] for s in (parabola, powers))
    assert np.allclose(one, other, atol=1e-9)


def test_the_file_holds_what_the_tracer_says():
    """One lens of each half traced again; the footprints are rounded to half a micrometre."""
    for name in (TUNE[0], UNSEEN[2]):
        kept, lens = lenses()[name], prescriptions()[name]
        angles = kept.angles_deg[4:20:5]
        assert np.allclose(middle(lens, angles), kept.middles_mm[4:20:5], atol=1e-6)
        assert kept.vertex_depth_mm == pytest.approx(lens.paraxial()[2])
        x, y, weights = kept.footprint(0.0, 8.0)
        assert np.hypot(x, y).max() < kept.focal_mm / 16
        assert float(weights @ (x * x + y * y)) == pytest.approx((kept.focal_mm / 16) ** 2 / 2, rel=2e-3)


def test_halves_share_no_lens():
    assert not {name.split(", ")[0] for name in TUNE if "Ex." in name} & {n.split(", ")[0] for n in UNSEEN}
    assert not set(TUNE) & set(UNSEEN) and {*TUNE, *UNSEEN} == set(NAMES)
    for half in (TUNE, UNSEEN):
        drifts = [lenses()[name].drift_mm for name in half]
        assert min(drifts) < 0 and max(drifts) > 3


@pytest.mark.parametrize("theta", [10.0, 35.0, 55.0])
def test_glass_shifts_rays_as_the_closed_form_says(theta):
    """t (1 - tan(theta') / tan(theta)) less of the way, for a straight and for a tilted plate alike."""
    angle = np.radians(theta)
    way = np.array([np.sin(angle), 0.0, np.cos(angle)])
    inside = np.arcsin(np.sin(angle) / 1.5)
    shorter = 2.0 * (1 - np.tan(inside) / np.tan(angle))
    at = (20.0 - shorter) * np.tan(angle)
    for off, passes in ((-1e-6, False), (1e-6, True)):
        parts = [Plate(2.0, 5.0, 1.5), Hole(at + off, 20.0)]
        assert follow(np.zeros((3, 1)), way, parts)[0] == passes


def test_a_tilted_plate_moves_rays_across_it():
    """A ray along the axis through glass tilted by a: t sin(a - a') / cos(a') to the side."""
    tilt, thickness = np.radians(10.0), 4.0
    inside = np.arcsin(np.sin(tilt) / 1.5)
    aside = thickness * np.sin(tilt - inside) / np.cos(inside)
    way = np.array([0.0, 0.0, 1.0])
    for off, passes in ((1e-6, True), (-1e-6, False)):
        hole = Frame(2 * (aside + off), 100.0, 30.0)
        assert (
            follow(np.zeros((3, 1)), way, [Plate(thickness, 10.0, 1.5, tilt=Tilt(10.0)), hole])[0] == passes
        )


def test_shares_are_between_all_and_nothing_and_fall_outwards():
    lens = lenses()[TUNE[0]]
    radius = float(np.tan(np.radians(38)) * (lens.depth_mm + 20))
    shares = [share(lens, theta, 8.0, [Hole(radius, 20.0)]) for theta in (0.0, 36.0, 38.0, 40.0, 44.0)]
    assert shares[0] == pytest.approx(1.0) and shares[-1] == 0.0
    assert shares == sorted(shares, reverse=True)
    turned = share(lens, 38.0, 8.0, [Hole(radius, 20.0)], phi_deg=123.0)
    assert turned == pytest.approx(shares[2])
