"""The only place that calls the code under test: what a calibration says, and the pupil that comes of it."""

from __future__ import annotations

import math
import tempfile
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from audit.corners.predict import field_of, field_off, pupil_depth, pupil_of
from audit.corners.verdict import geometry_of
from audit.errors import AuditError
from audit.jobs.calibrate import calibrate
from audit.kit.kit import Lens
from audit.optics.corners import Circle, Pupil, transmission
from audit.optics.onset import field_angle_at_loss
from benchmarks.lens_world.footprints import HALF_DIAGONAL_MM
from benchmarks.lens_world.lenses import Floats, TracedLens
from benchmarks.lens_world.pictures import HEIGHT_MM, WIDTH_MM
from benchmarks.lens_world.setup import SetUp
from benchmarks.lens_world.truth import Hole, onset_deg, share

ONSET = 0.97


@dataclass(frozen=True)
class Said:
    """What `calibrate` says of a set-up: refused with a reason, or a depth with its 95 % error.

    `lens` is the kit's lens with what the command would write. `accepted`: it would be written without being
    asked for once more. `warnings` are its notes that doubt the set-up.
    """

    refused: str = ""
    depth_mm: float = math.nan
    err_mm: float = math.nan
    drift_mm: float = math.nan
    drift_err_mm: float = math.nan
    lens: Lens | None = None
    accepted: bool = False
    warnings: tuple[str, ...] = ()


ALWAYS_SAID = (
    "outside the model",
    "the cuts lie too near",
    "default dimensions",
    "one rig alone",
    "no frame below",
)
"""Notes that say something of every sound calibration of their kind: no warning."""


def said(setup: SetUp) -> Said:
    """Writes the set-up's folder and runs the command's own function on it."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        setup.write(folder)
        try:
            found = calibrate(folder)
        except AuditError as error:
            return Said(refused=str(error))
        fit = found.fit
        entry = next(x for x in tomllib.loads(setup.kit())["lens"])
        entry |= {key: value for key, value in found.values.items() if value is not None}
        implausible = tuple(str(doubt.words) for doubt in found.doubts)
        warnings = [n for n in found.notes if not n.startswith(ALWAYS_SAID)]
        return Said(
            depth_mm=fit.depth_mm,
            err_mm=fit.depth_err_mm,
            drift_mm=fit.drift_mm,
            drift_err_mm=fit.drift_err_mm,
            lens=Lens.model_validate(entry),
            accepted=not implausible,
            warnings=(*implausible, *warnings),
        )


@dataclass(frozen=True)
class Model:
    """The pupil the verdicts would take at an f-number, and where in the picture they put a field tangent."""

    pupil: Pupil
    heights_mm: Floats
    tangents: Floats

    @classmethod
    def of(cls, lens: Lens, focal_mm: float, f_number: float) -> Model:
        """From the kit's lens, for a JPEG."""
        row = {
            "focal_length_mm": focal_mm,
            "sensor_width_mm": WIDTH_MM,
            "sensor_height_mm": HEIGHT_MM,
            "sensor_err": 0.0,
            "f_number_exact": f_number,
            "subject_distance_m": None,
            "formats": "JPEG",
        }
        whole = geometry_of(row, lens, None)
        smaller = np.linspace(0.2, 1.15, 40)
        parts = [replace(whole, width_mm=s * WIDTH_MM, height_mm=s * HEIGHT_MM) for s in smaller]
        depth = pupil_depth(lens, whole)
        off = [1 - field_off(whole, depth, float(s)) for s in smaller]
        corners = [field_of(part, (0.0, 0.0), (2, 2)) for part in parts]
        tangents = np.array([float(np.hypot(x[0, 0], y[0, 0])) for x, y, _ in corners]) * off
        return cls(pupil_of(whole, depth), smaller * whole.half_diagonal_mm, tangents)


@dataclass(frozen=True)
class Missed:
    """By how much a model misses behind one opening.

    `onset_deg`: of 3 %, the field angle alone; `placed_deg`: of the place in the picture where it is put, so
    that a focal length or distortion that the calibration took in with the depth does not count; at most 5.
    `share`: mean absolute difference of the share that passes, place by place, from 0.6 of the corner on.
    """

    f_number: float
    onset_deg: float
    placed_deg: float
    share: float


def missed(truth: TracedLens, model: Model, hole: Hole) -> Missed | None:
    """None where the opening does not cut that lens' picture."""
    f_number = model.pupil.f_number
    true = onset_deg(truth, f_number, [hole], ONSET)
    if true > truth.corner_deg:
        return None
    circle = Circle(hole.radius_mm, hole.z_mm)
    found = field_angle_at_loss(-math.log2(ONSET), model.pupil, [circle])
    at = np.interp(np.tan(np.radians(min(found, 89.0))), model.tangents, model.heights_mm)
    placed = float(truth.theta_deg(np.array(at)))
    heights = np.linspace(0.6, 1.0, 24) * HALF_DIAGONAL_MM
    theta = truth.theta_deg(heights)
    real = np.array([share(truth, float(t), f_number, [hole]) for t in theta])
    tangents = np.interp(heights, model.heights_mm, model.tangents)
    off = np.abs(transmission(tangents, 0.0, model.pupil, [circle]) - real)
    return Missed(f_number, min(abs(found - true), 5.0), min(abs(placed - true), 5.0), float(off.mean()))


def fresh_holes(lens: TracedLens, rng: np.random.Generator, count: int) -> list[Hole]:
    """Openings that took no part in a calibration, cutting between 0.6 and 0.95 of the corner's tangent."""
    holes = []
    for edge, z in zip(rng.uniform(0.6, 0.95, count), rng.uniform(2, 45, count), strict=True):
        tangent = edge * np.tan(np.radians(lens.corner_deg))
        holes.append(Hole(float(tangent * (lens.depth_mm + lens.drift_mm * tangent**2 + z)), float(z)))
    return holes


def spread(values: Sequence[float]) -> str:
    """Mean and 95 % of absolute values."""
    known = np.abs([v for v in values if not math.isnan(v)])
    return f"{known.mean():.3f} / {np.quantile(known, 0.95):.3f}" if len(known) else "-"
