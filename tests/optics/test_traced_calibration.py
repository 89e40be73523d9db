"""Depth, and depth and drift, calibrated from traced rings, scored on every other cut of the same lens.

Rings at 5 mm, at the f-number nearest to 8, serve to calibrate and are never scored at any f-number. A
missed onset counts as five degrees.
"""

import json
import math
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from audit.optics.calibrate import Cut, Part, fit_depth
from audit.optics.corners import Circle, Rectangle, default_pupil, transmission
from audit.optics.onset import field_angle_at_loss

FILE = Path(__file__).parents[3] / "shared" / "reference" / "raytrace_dev.json"
ONSET_STOPS = -math.log2(0.97)


def openings_of(cut):
    return [
        Circle(o["R"], o["h"])
        if o["type"] == "circle"
        else Rectangle(o["W"], o["H"], o["h"], o["phi_to_field"])
        for o in cut["openings"]
    ]


def calibrates(cut):
    first = cut["openings"][0]
    return len(cut["openings"]) == 1 and first["type"] == "circle" and first["h"] == 5


@pytest.fixture(scope="module")
def lenses():
    if not FILE.is_file():
        pytest.skip(f"no ray-traced reference at {FILE}")
    by_lens = defaultdict(list)
    for case in json.loads(FILE.read_text())["cases"]:
        by_lens[case["prescription"]].append(case)
    return by_lens


def cuts_of(case, rings):
    return [
        Cut(
            f"{case['prescription']} ring {number}",
            case["focal_mm"],
            case["N"],
            level,
            ring[key],
            0.05,
            ((1.0, 0.0),),
            (Part(f"ring {number}", openings_of(ring)[0], 0.01, 0.01),),
        )
        for number, ring in enumerate(rings)
        for key, level in (("onset3pct_deg", ONSET_STOPS), ("half_deg", 1.0))
        if ring.get(key)
    ]


def calibrated(cases, *, drift):
    """A pupil for each case of a lens, from its rings at the f-number nearest to 8."""
    case = min(cases, key=lambda c: abs(c["N"] - 8))
    rings = [cut for cut in case["obstructions"] if calibrates(cut) and cut.get("onset3pct_deg")]
    rings.sort(key=lambda cut: cut["openings"][0]["R"])
    used = [rings[0], rings[-1]] if drift else rings
    fit = fit_depth(cuts_of(case, used), case["half_diagonal_mm"], drift=drift, most_misfit=math.inf)

    def pupil(other):
        made = default_pupil(
            other["focal_mm"], other["N"], fit.depth_mm, half_diagonal_mm=other["half_diagonal_mm"]
        )
        return made if fit.drift_mm is None else replace(made, drift_mm=fit.drift_mm)

    return pupil


def scored(lenses, *, drift):
    """(errors of the onset in degrees, errors of the fraction where it is neither clear nor black)."""
    onsets, fractions = [], []
    for cases in lenses.values():
        pupil = calibrated(cases, drift=drift)
        for case in cases:
            tangents = np.tan(np.radians(case["theta_deg"]))
            for cut in case["obstructions"]:
                if calibrates(cut):
                    continue
                made, openings = pupil(case), openings_of(cut)
                true = np.array(cut["fraction"])
                found = transmission(tangents, 0.0, made, openings)
                zone = (true > 0.03) & (true < 0.97)
                fractions.extend(np.abs(true - found)[zone])
                if cut.get("onset3pct_deg"):
                    angle = field_angle_at_loss(ONSET_STOPS, made, openings)
                    onsets.append(5.0 if angle >= 80 else abs(angle - cut["onset3pct_deg"]))
    return np.array(onsets), np.array(fractions)


@pytest.mark.parametrize(
    ("drift", "mean", "worst", "fraction"), [(False, 0.21, 0.73, 0.034), (True, 0.115, 0.37, 0.031)]
)
def test_traced_lenses_after_calibration(lenses, drift, mean, worst, fraction):
    onsets, fractions = scored(lenses, drift=drift)
    assert len(onsets) > 200
    assert onsets.mean() <= mean
    assert np.percentile(onsets, 95) <= worst
    assert fractions.mean() <= fraction
