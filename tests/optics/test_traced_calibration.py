"""Pupils calibrated from two traced rings, scored on every other cut of the same lens.

Rings at 5 mm serve to calibrate and are never scored at any f-number: at the f-number nearest to 8, and wide
open where the case says so. A missed onset counts as five degrees. The fit's prior was chosen on these lenses
and others; how it does on lenses it was not chosen on is for `python -m benchmarks.lens_world`.
"""

import json
import math
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from audit.optics.calibrate import fit_pupil
from audit.optics.corners import Circle, Rectangle, default_pupil, transmission
from audit.optics.cuts import Cut, Part
from audit.optics.onset import field_angle_at_loss
from audit.optics.pupils import WIDE_OPEN_BELOW, other_aperture

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


def cuts_of(case):
    """The narrowest and the widest ring of a case, each at its onset and at half light."""
    rings = [cut for cut in case["obstructions"] if calibrates(cut) and cut.get("onset3pct_deg")]
    rings.sort(key=lambda cut: cut["openings"][0]["R"])
    return [
        Cut(
            f"ring {number} at f/{case['N']}",
            case["focal_mm"],
            case["N"],
            level,
            ring[key],
            0.05,
            ((1.0, 0.0),),
            (Part(f"ring {number}", openings_of(ring)[0], 0.01, 0.01),),
        )
        for number, ring in ((0, rings[0]), (1, rings[-1]))
        for key, level in (("onset3pct_deg", ONSET_STOPS), ("half_deg", 1.0))
        if ring.get(key)
    ]


def calibrated(cases, *, wide_open):
    """A pupil for each case of a lens, and the fit."""
    used = [min(cases, key=lambda c: abs(c["N"] - 8))]
    used += [c for c in cases if wide_open and c["N"] < WIDE_OPEN_BELOW]
    cuts = [cut for case in used for cut in cuts_of(case)]
    fit = fit_pupil(cuts, used[0]["half_diagonal_mm"], most_misfit=math.inf)
    told = {one.wide_open: one.told for one in fit.pupils}
    told.setdefault(True, other_aperture(told[False], to_wide_open=True))

    def pupil(case):
        depth, drift, growth, _ = told[case["N"] < WIDE_OPEN_BELOW].values.tolist()
        usual = default_pupil(case["focal_mm"], case["N"], depth, half_diagonal_mm=case["half_diagonal_mm"])
        return replace(usual, drift_mm=drift, radial_growth=growth)

    return pupil, fit


def scored(lenses, *, wide_open):
    """By wide open or not: errors of onsets in degrees, of fractions that are neither clear nor black."""
    onsets, fractions = defaultdict(list), defaultdict(list)
    for cases in lenses.values():
        pupil, _ = calibrated(cases, wide_open=wide_open)
        for case in cases:
            tangents, side = np.tan(np.radians(case["theta_deg"])), case["N"] < WIDE_OPEN_BELOW
            for cut in case["obstructions"]:
                if calibrates(cut):
                    continue
                made, openings = pupil(case), openings_of(cut)
                true = np.array(cut["fraction"])
                found = transmission(tangents, 0.0, made, openings)
                zone = (true > 0.03) & (true < 0.97)
                fractions[side].extend(np.abs(true - found)[zone])
                if cut.get("onset3pct_deg"):
                    angle = field_angle_at_loss(ONSET_STOPS, made, openings)
                    onsets[side].append(5.0 if angle >= 80 else abs(angle - cut["onset3pct_deg"]))
    return {
        side: (np.mean(onsets[side]), np.percentile(onsets[side], 95), np.mean(fractions[side]))
        for side in onsets
    }


@pytest.mark.parametrize(
    ("wide_open", "side", "mean", "worst", "fraction"),
    [(False, False, 0.08, 0.38, 0.029), (True, False, 0.07, 0.37, 0.024), (True, True, 0.14, 0.43, 0.022)],
    ids=["f/8 from f/8", "f/8 from both", "wide open from both"],
)
def test_traced_lenses_after_calibration(lenses, wide_open, side, mean, worst, fraction):
    found = scored(lenses, wide_open=wide_open)[side]
    assert found[0] <= mean and found[1] <= worst and found[2] <= fraction, found


def test_the_depth_found_holds_the_traced_one(lenses):
    """But for the widest zoom, whose pupil turns back beyond 45 degrees: one millimetre."""
    off = {}
    for name, cases in lenses.items():
        _, fit = calibrated(cases, wide_open=False)
        off[name] = abs(fit.depth_mm - cases[0]["zp_mm"]) / fit.depth_err_mm
    assert sorted(off.values())[-2] <= 1.0, off
    assert max(off.values()) < 2.5, off
