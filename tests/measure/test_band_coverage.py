"""Does the band hold the truth? On ray-traced lenses, and on invented ones that differ as traced ones do."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from audit.measure.band import DISTORTION_ERR, GIVEN_MM
from audit.measure.predict import Geometry, predict
from audit.model.kit import Lens
from audit.model.prediction import CLEAR_STOPS, CUT_STOPS
from audit.model.rig import Opening, Rig
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
        HALF_DIAGONAL_MM / nominal * (1 + rng.normal(0, 0.03 / 1.96)) * (1 + rng.normal(0, spread / 1.96))
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
    made = predict(rig, Geometry(nominal, f_number, 36.0, 24.0), lens if known else None)
    return made, float(loss_stops(transmission(tangent, 0.0, pupil, true)))


@pytest.mark.parametrize("known", [True, False])
def test_invented_lenses(known):
    rng = np.random.default_rng(11)
    drawn = [invented(rng, known) for _ in range(200)]
    held = [
        made.loss_min_stops - TOLERANCE_STOPS <= loss <= made.loss_max_stops + TOLERANCE_STOPS
        for made, loss in drawn
    ]
    assert np.mean(held) >= 0.95
    assert sum(contradicts(made.verdict, loss) for made, loss in drawn) <= 2


def traced_verdicts():
    """(verdict, true loss) of traced lenses behind rings, for sensors that reach to many angles."""
    for case in json.loads(FILE.read_text())["cases"]:
        nominal = float(round(case["focal_mm"]))
        lens = Lens(id="w", focal_mm=(nominal, nominal), pupil_depth_mm=case["zp_mm"], pupil_depth_err_mm=1.5)
        for cut in case["obstructions"]:
            if any(o["type"] != "circle" for o in cut["openings"]):
                continue
            rig = Rig(
                "worn", "r", openings=tuple(Opening("ring", 2 * o["R"], o["h"]) for o in cut["openings"])
            )
            for height, fraction in list(zip(case["image_height_mm"], cut["fraction"], strict=True))[-1::-5]:
                if height > 0.5 * case["half_diagonal_mm"]:
                    sides = 2 * height * 3 / 13**0.5, 2 * height * 2 / 13**0.5
                    made = predict(rig, Geometry(nominal, case["N"], *sides), lens)
                    yield made.verdict, float(loss_stops(fraction))


def test_ray_traced_lenses():
    if not FILE.is_file():
        pytest.skip(f"no ray-traced reference at {FILE}")
    drawn = list(traced_verdicts())
    assert len(drawn) > 250
    assert np.mean([contradicts(*one) for one in drawn]) <= 0.01
    assert np.mean([verdict == "at risk" for verdict, _ in drawn]) <= 0.4
