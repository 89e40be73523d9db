"""Does the band hold the truth? On ray-traced lenses, and on invented ones that differ as traced ones do."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from audit.corners.band import DISTORTION_ERR, FOCAL_ERR, GIVEN_MM
from audit.corners.predict import EDGES, Geometry, predict
from audit.corners.prediction import CLEAR_STOPS, CUT_STOPS
from audit.declare.rig import Opening, Rig
from audit.kit.kit import Lens
from audit.optics.corners import Circle, default_pupil, loss_stops, transmission

FILE = Path(__file__).parents[3] / "shared" / "reference" / "raytrace_dev.json"
HALF_DIAGONAL_MM = 21.633
TOLERANCE_STOPS = 0.02


def contradicts(verdict, loss):
    return (verdict == "clear" and loss >= CLEAR_STOPS) or (verdict == "cut" and loss < CUT_STOPS)


def invented(rng, known):
    """(prediction, true loss) of a lens drawn at random; errors are 95 % half widths, drawn as normal."""
    nominal, f_number = float(rng.choice([14, 16, 18, 20, 24, 28])), float(rng.choice([4, 8, 11.3, 16]))
    spread = np.interp(HALF_DIAGONAL_MM / nominal, *DISTORTION_ERR)
    tangent = (
        HALF_DIAGONAL_MM
        / nominal
        * (1 + rng.normal(0, FOCAL_ERR / 1.96))
        * (1 + rng.normal(0, spread / 1.96))
    )
    base = default_pupil(nominal, f_number, rng.normal(25.0, 1.5 / 1.96 if known else 3.5))
    pupil = replace(
        base,
        radial_growth=base.radial_growth + rng.normal(0, 0.25),
        tangential_growth=base.tangential_growth + rng.normal(0, 0.15),
        drift_mm=base.drift_mm + rng.normal(0, 1.0),
    )
    height = float(rng.choice([0.5, 4.0]))
    rig = Rig("worn", "a rig", openings=(Opening("ring", 74, height), Opening("holder", 86, height + 7)))
    true = [
        Circle(
            o.diameter_mm / 2 + rng.normal(0, GIVEN_MM[0] / 1.96),
            o.distance_mm + rng.normal(0, GIVEN_MM[1] / 1.96),
        )
        for o in rig.openings
    ]
    lens = Lens(id="w", focal_mm=(nominal, nominal), pupil_depth_mm=25.0, pupil_depth_err_mm=1.5)
    made = predict(rig, Geometry(nominal, f_number, 36.0, 24.0), lens if known else None, grid=EDGES)
    return made, float(loss_stops(transmission(tangent, 0.0, pupil, true)))


def held(made, loss):
    return made.loss_min_stops - TOLERANCE_STOPS <= loss <= made.loss_max_stops + TOLERANCE_STOPS


@pytest.mark.parametrize("known", [True, False])
def test_invented_lenses(known):
    """Held where the band says something: a corner far from any cut is right without trying."""
    rng = np.random.default_rng(11)
    drawn = [invented(rng, known) for _ in range(300)]
    unsure = [one for one in drawn if one[0].verdict == "at risk"]
    assert len(unsure) > 40
    assert np.mean([held(*one) for one in unsure]) >= 0.93
    assert np.mean([contradicts(made.verdict, loss) for made, loss in drawn]) <= 0.01


def traced():
    """(kind, prediction, true loss) of traced lenses behind rings, on sensors that reach to many angles."""
    for case in json.loads(FILE.read_text())["cases"]:
        nominal, depth = float(round(case["focal_mm"])), case["zp_mm"]
        lens = Lens(id="w", focal_mm=(nominal, nominal), pupil_depth_mm=depth, pupil_depth_err_mm=1.5)
        for number, cut in enumerate(case["obstructions"]):
            if any(o["type"] != "circle" for o in cut["openings"]):
                continue
            # A lens that is not in the kit: its thread's edge lies where its pupil is 20 to 32 mm behind.
            there = depth - (20.0 + 12.0 * (number % 4) / 3)
            for height, fraction in list(zip(case["image_height_mm"], cut["fraction"], strict=True))[-1::-8]:
                if height < 0.65 * case["half_diagonal_mm"]:
                    break
                frame = Geometry(nominal, case["N"], 2 * height * 3 / 13**0.5, 2 * height * 2 / 13**0.5)
                for kind, shift in (("known", 0.0), ("unknown", there)):
                    rings = (Opening("ring", 2 * o["R"], o["h"] + shift) for o in cut["openings"])
                    rig = Rig("worn", "r", openings=tuple(rings))
                    made = predict(rig, frame, lens if kind == "known" else None, grid=EDGES)
                    yield kind, made, float(loss_stops(fraction))


def test_ray_traced_lenses():
    if not FILE.is_file():
        pytest.skip(f"no ray-traced reference at {FILE}")
    drawn = list(traced())
    for kind, most_at_risk in (("known", 0.3), ("unknown", 0.5)):
        mine = [(made, loss) for one, made, loss in drawn if one == kind]
        assert len(mine) > 120
        assert np.mean([held(*one) for one in mine]) >= 0.95
        assert np.mean([contradicts(made.verdict, loss) for made, loss in mine]) <= 0.01
        assert np.mean([made.verdict == "at risk" for made, _ in mine]) <= most_at_risk
