"""200 calibrations of invented lenses from simulated test frames: how near the truth, how true the error.

    python benchmarks/calibration.py [count] [first seed]

Light is followed ray by ray (audit.demo.rays), developed with a tone curve that is not the one assumed in
reading, and stored as a JPEG; the sky has a gradient, the lens its falloff, and the photographer's caliper is
off by N(0, 0.3 mm) on every bore. Growth and drift of the pupil vary around what the fit takes for granted.
"""

from __future__ import annotations

import io
import sys
from dataclasses import dataclass

import numpy as np
from PIL import Image

from audit.demo.camera import develop
from audit.demo.rays import Bundle, Round, unobstructed
from audit.measure.cut import measure_cut
from audit.measure.cut_angle import cut_of
from audit.measure.predict import Geometry
from audit.model.rig import Opening, Rig
from audit.optics.calibrate import CalibrationRefused, Cut, DepthFit, fit_depth

WIDTH_PX, HEIGHT_PX = 900, 600
WIDTH_MM, HEIGHT_MM = 36.0, 24.0
HALF_DIAGONAL_MM = float(np.hypot(WIDTH_MM, HEIGHT_MM)) / 2
STACKS = {
    "ring": (74.0, 4.0),
    "holder": (80.0, 12.0),
    "front ring": (88.0, 26.0),
    "second front ring": (96.0, 38.0),
    "step ring": (68.0, 8.0),
    "hood": (92.0, 30.0),
}
"""Diameter and distance of openings that cut, mm; invented."""
GROWTH_SPREAD, DRIFT_SPREAD_MM, BORE_ERR_MM, HEIGHT_ERR_MM = 0.25, 1.0, 0.3, 0.1


@dataclass(frozen=True)
class Lens:
    """The truth: a prime lens."""

    focal_mm: float
    depth_mm: float
    radial: float
    tangential: float
    drift_mm: float


@dataclass(frozen=True)
class Outcome:
    """Truth and fit of one calibration; `fit` None with the reason where it was refused."""

    lens: Lens
    rigs: tuple[str, ...]
    fit: DepthFit | None
    why: str = ""

    @property
    def error_mm(self) -> float:
        """Depth found less the true depth."""
        return self.fit.depth_mm - self.lens.depth_mm if self.fit else np.nan

    @property
    def held(self) -> bool:
        """Whether the stated +- holds the truth."""
        return self.fit is not None and abs(self.error_mm) <= self.fit.depth_err_mm


def simulate(seed: int) -> Outcome:
    """One photographer, one lens, one to three rigs that cut at two f-numbers each, half with a bare frame."""
    rng = np.random.default_rng(seed)
    lens = _lens(rng)
    rigs = _rigs(lens, rng)
    caliper = {name: rng.normal(0, (BORE_ERR_MM, HEIGHT_ERR_MM)) for name in STACKS}
    fall, sky = rng.uniform(0.3, 1.0), rng.uniform(0, 1.0)
    with_bare = rng.random() < 0.5
    cuts, whys = [], []
    for name in rigs:
        for f_number in rng.choice([5.6, 8.0, 11.0], 2, replace=False):
            picture = frame(lens, f_number, name, rng, fall, sky)
            bare = frame(lens, f_number, None, rng, fall, sky) if with_bare else None
            measured = measure_cut(picture, bare)
            if measured.refused:
                whys.append(measured.refused)
                continue
            cuts.append(_cut(f"{name} f/{f_number:g}", measured, lens, f_number, name, caliper[name]))
    try:
        return Outcome(lens, rigs, fit_depth(cuts, HALF_DIAGONAL_MM), "; ".join(whys))
    except CalibrationRefused as error:
        return Outcome(lens, rigs, None, f"{error}; {'; '.join(whys)}")


def _lens(rng: np.random.Generator) -> Lens:
    """A wide prime; the middle of growth and drift is that of traced wide lenses (p 1.8, q .56, a .036 depth)."""
    depth = rng.uniform(19, 33)
    return Lens(
        focal_mm=float(rng.choice([18.0, 20.0, 21.0, 24.0, 28.0])),
        depth_mm=depth,
        radial=1.8 + rng.normal(0, GROWTH_SPREAD),
        tangential=0.56 + rng.normal(0, GROWTH_SPREAD),
        drift_mm=0.036 * depth + rng.normal(0, DRIFT_SPREAD_MM),
    )


def _edge(lens: Lens, name: str) -> float:
    """Image height, in half diagonals, where half of the bundle's middle is cut."""
    diameter, distance = STACKS[name]
    return diameter / 2 / (lens.depth_mm + distance) * lens.focal_mm / HALF_DIAGONAL_MM


def _rigs(lens: Lens, rng: np.random.Generator) -> tuple[str, ...]:
    """Up to three rigs whose cut is well in the picture."""
    fitting = [name for name in STACKS if 0.66 < _edge(lens, name) < 0.93]
    while not fitting:
        return _rigs_near(lens)
    count = min(len(fitting), int(rng.integers(1, 4)))
    return tuple(str(name) for name in rng.choice(fitting, count, replace=False))


def _rigs_near(lens: Lens) -> tuple[str, ...]:
    return (min(STACKS, key=lambda name: abs(_edge(lens, name) - 0.8)),)


def frame(
    lens: Lens, f_number: float, rig: str | None, rng: np.random.Generator, fall: float, sky: float
) -> np.ndarray:
    """Grey codes of one test frame; `fall` scales cos^4, `sky` is the gradient over the diagonal in stops."""
    x = (np.arange(WIDTH_PX) + 0.5 - WIDTH_PX / 2) * WIDTH_MM / WIDTH_PX / lens.focal_mm
    y = -(np.arange(HEIGHT_PX) + 0.5 - HEIGHT_PX / 2)[:, None] * HEIGHT_MM / HEIGHT_PX / lens.focal_mm
    tangent = np.hypot(x, y)
    light = (1 + tangent**2) ** (-2 * fall)
    if rig is not None:
        diameter, distance = STACKS[rig]
        bundle = Bundle(lens.focal_mm, f_number, lens.depth_mm, lens.radial, lens.tangential, lens.drift_mm)
        along = np.linspace(0, float(tangent.max()), 400)
        passed = unobstructed(along, 0.0, bundle, [Round(diameter / 2, distance)], rays=2048)
        light = light * np.interp(tangent, along, passed)
    turn = rng.uniform(0, 2 * np.pi)
    slope = (np.cos(turn) * x + np.sin(turn) * y) / (HALF_DIAGONAL_MM / lens.focal_mm)
    light = light * 2.0 ** (sky / 2 * slope + rng.uniform(-0.2, 0.9))
    pixels = develop(np.repeat(light[..., None], 3, axis=2).astype(np.float32), 200.0, int(rng.integers(1 << 30)))
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=int(rng.integers(80, 96)))
    return np.asarray(Image.open(out).convert("L"))


def _cut(name, measured, lens: Lens, f_number: float, rig: str, off) -> Cut:  # type: ignore[no-untyped-def]
    """The frame's cut with the rig as the photographer measured it."""
    diameter, distance = STACKS[rig]
    worn = Rig("worn", rig, openings=(Opening(rig, diameter + off[0], distance + off[1]),))
    return cut_of(name, measured, Geometry(lens.focal_mm, f_number, WIDTH_MM, HEIGHT_MM), worn)


def summary(outcomes: list[Outcome]) -> dict[str, float]:
    """Shares and percentiles over the calibrations."""
    done = [o for o in outcomes if o.fit is not None]
    errors = np.abs([o.error_mm for o in done])
    told = [o for o in done if o.fit and o.fit.drift_mm is not None]
    return {
        "calibrated": len(done) / len(outcomes),
        "within_1.5_mm": float(np.mean([o.fit is not None and abs(o.error_mm) <= 1.5 for o in outcomes])),
        "held": float(np.mean([o.held for o in done])),
        "median_error_mm": float(np.median(errors)),
        "p95_error_mm": float(np.quantile(errors, 0.95)),
        "bias_mm": float(np.mean([o.error_mm for o in done])),
        "median_stated_mm": float(np.median([o.fit.depth_err_mm for o in done if o.fit])),
        "drift_told": len(told) / len(done),
        "drift_held": float(
            np.mean([abs(o.fit.drift_mm - o.lens.drift_mm) <= o.fit.drift_err_mm for o in told if o.fit])
            if told
            else np.nan
        ),
        "median_drift_error_mm": float(np.median([abs(o.fit.drift_mm - o.lens.drift_mm) for o in told])),
    }


if __name__ == "__main__":
    count, first = (int(a) for a in (*sys.argv[1:], "200", "0")[:2]) if len(sys.argv) < 3 else map(int, sys.argv[1:3])
    found = [simulate(first + n) for n in range(count)]
    for outcome in found:
        if outcome.fit is None:
            print("refused:", outcome.why)
    for key, value in summary(found).items():
        print(f"{key:24} {value:.3f}")
