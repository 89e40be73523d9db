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
from multiprocessing import Pool

import numpy as np
from PIL import Image

from audit.corners.predict import Geometry
from audit.declare.rig import Opening, Rig
from audit.demo.camera import develop
from audit.demo.rays import Bundle, Round, unobstructed
from audit.optics.calibrate import CalibrationRefused, PupilFit, fit_pupil
from audit.optics.cuts import Cut
from audit.pixels.cut import CornerProfile, measure_cut
from audit.pixels.cut_angle import cuts_of
from audit.pixels.decode import Codes

WIDTH_PX, HEIGHT_PX = 900, 600
WIDTH_MM, HEIGHT_MM = 36.0, 24.0
HALF_DIAGONAL_MM = float(np.hypot(WIDTH_MM, HEIGHT_MM)) / 2
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
class Scene:
    """`fall` scales cos^4; `sky_stops` is the gradient over the diagonal, towards `turn`."""

    fall: float
    sky_stops: float
    turn: float


@dataclass(frozen=True)
class Outcome:
    """Truth and fit of one calibration; `fit` None with the reason where it was refused."""

    lens: Lens
    rigs: tuple[Round, ...]
    fit: PupilFit | None
    why: str = ""

    @property
    def error_mm(self) -> float:
        """Depth found less the true depth."""
        return self.fit.depth_mm - self.lens.depth_mm if self.fit else np.nan

    @property
    def held(self) -> bool:
        """Whether the stated +- holds the truth."""
        return self.fit is not None and abs(self.error_mm) <= self.fit.depth_err_mm


def simulate(seed: int, one_rig: bool = False) -> Outcome:
    """One lens, two or three rigs (or one) at two f-numbers each, half the time with bare frames."""
    rng = np.random.default_rng(seed)
    lens = _lens(rng)
    rigs = _rigs(lens, 1 if one_rig else int(rng.choice([2, 3], p=[0.6, 0.4])), rng)
    caliper = {rig: rng.normal(0, (BORE_ERR_MM, HEIGHT_ERR_MM)) for rig in rigs}
    scene = Scene(rng.uniform(0.3, 1.0), rng.uniform(0, 1.0), rng.uniform(0, 2 * np.pi))
    with_bare = rng.random() < 0.5
    cuts, whys = [], []
    for rig in rigs:
        for f_number in rng.choice([5.6, 8.0, 11.0], 2, replace=False):
            picture = frame(lens, f_number, rig, rng, scene)
            bare = frame(lens, f_number, None, rng, scene) if with_bare else None
            measured = measure_cut(picture, bare)
            whys.append(measured.refused)
            cuts += _cuts(measured, lens, f_number, rig, caliper[rig])
    reasons = "; ".join(filter(None, whys))
    try:
        return Outcome(lens, rigs, fit_pupil(cuts, HALF_DIAGONAL_MM), reasons)
    except CalibrationRefused as error:
        return Outcome(lens, rigs, None, f"{error}; {reasons}")


def _lens(rng: np.random.Generator) -> Lens:
    """A wide prime; growth and drift lie around those of traced wide lenses."""
    depth = rng.uniform(19, 33)
    return Lens(
        focal_mm=float(rng.choice([14.0, 16.0, 18.0, 20.0, 24.0, 28.0])),
        depth_mm=depth,
        radial=1.8 + rng.normal(0, GROWTH_SPREAD),
        tangential=0.56 + rng.normal(0, GROWTH_SPREAD),
        drift_mm=0.036 * depth + rng.normal(0, DRIFT_SPREAD_MM),
    )


def _rigs(lens: Lens, count: int, rng: np.random.Generator) -> tuple[Round, ...]:
    """Openings of whole millimetres whose cut is well in the picture."""
    edges = rng.uniform(0.67, 0.93, count) * HALF_DIAGONAL_MM / lens.focal_mm
    distances = rng.uniform(3, 45, count).round()
    return tuple(
        Round(float(np.round(2 * t * (lens.depth_mm + h))) / 2, float(h))
        for t, h in zip(edges, distances, strict=True)
    )


def frame(lens: Lens, f_number: float, rig: Round | None, rng: np.random.Generator, scene: Scene) -> Codes:
    """Grey codes of one test frame, its sky a little different from the others'."""
    x = (np.arange(WIDTH_PX) + 0.5 - WIDTH_PX / 2) * WIDTH_MM / WIDTH_PX / lens.focal_mm
    y = -(np.arange(HEIGHT_PX) + 0.5 - HEIGHT_PX / 2)[:, None] * HEIGHT_MM / HEIGHT_PX / lens.focal_mm
    tangent = np.hypot(x, y)
    light = (1 + tangent**2) ** (-2 * scene.fall)
    if rig is not None:
        bundle = Bundle(lens.focal_mm, f_number, lens.depth_mm, lens.radial, lens.tangential, lens.drift_mm)
        along = np.linspace(0, float(tangent.max()), 400)
        passed = unobstructed(along, 0.0, bundle, [rig], rays=2048)
        light = light * np.interp(tangent, along, passed)
    turn, sky = scene.turn + rng.normal(0, 0.15), scene.sky_stops + rng.normal(0, 0.1)
    slope = (np.cos(turn) * x + np.sin(turn) * y) / (HALF_DIAGONAL_MM / lens.focal_mm)
    light = light * 2.0 ** (sky / 2 * slope + rng.uniform(-0.2, 0.9))
    pixels = develop(
        np.repeat(light[..., None], 3, axis=2).astype(np.float32), 200.0, int(rng.integers(1 << 30))
    )
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=int(rng.integers(80, 96)))
    return np.asarray(Image.open(out).convert("L"))


def _cuts(measured: CornerProfile, lens: Lens, f_number: float, rig: Round, off: np.ndarray) -> list[Cut]:
    """The frame's cuts with the rig as the photographer measured it."""
    name = f"{2 * rig.radius_mm:g} mm at {rig.distance_mm:g} mm"
    hole = Opening(name, 2 * rig.radius_mm + off[0], rig.distance_mm + off[1])
    worn = Rig("worn", name, openings=(hole,))
    geometry = Geometry(lens.focal_mm, f_number, WIDTH_MM, HEIGHT_MM)
    return cuts_of(f"{name} f/{f_number:g}", measured, geometry, worn)


def summary(outcomes: list[Outcome]) -> dict[str, float]:
    """Shares and percentiles over the calibrations."""
    done = [o for o in outcomes if o.fit is not None]
    errors = np.abs([o.error_mm for o in done])
    return {
        "calibrated": len(done) / len(outcomes),
        "within_1.5_mm": float(np.mean([o.fit is not None and abs(o.error_mm) <= 1.5 for o in outcomes])),
        "held": float(np.mean([o.held for o in done])),
        "median_error_mm": float(np.median(errors)),
        "p95_error_mm": float(np.quantile(errors, 0.95)),
        "bias_mm": float(np.mean([o.error_mm for o in done])),
        "median_stated_mm": float(np.median([o.fit.depth_err_mm for o in done if o.fit])),
        "drift_held": float(
            np.mean([abs(o.fit.drift_mm - o.lens.drift_mm) <= o.fit.drift_err_mm for o in done if o.fit])
        ),
        "median_drift_error_mm": float(
            np.median([abs(o.fit.drift_mm - o.lens.drift_mm) for o in done if o.fit])
        ),
    }


def main(count: int = 200, first: int = 0) -> None:
    """Prints the figures for two or three rigs, as the manual asks for, and for one alone."""
    with Pool() as pool:
        for one_rig in (False, True):
            print("one rig" if one_rig else "two or three rigs")
            found = pool.starmap(simulate, [(first + n, one_rig) for n in range(count)], chunksize=4)
            for outcome in found:
                if outcome.fit is None:
                    print("refused:", outcome.why)
            for key, value in summary(found).items():
                print(f"  {key:24} {value:.3f}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]))
