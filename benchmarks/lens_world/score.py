"""The only place that calls the code under test: what a calibration says, and the pupil that comes of it."""

from __future__ import annotations

import math
import tempfile
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from audit.corners.predict import Geometry, pupil_depth, pupil_of
from audit.errors import AuditError
from audit.jobs.calibrate import calibrate
from audit.kit.kit import Lens
from audit.optics.corners import Circle, Pupil, transmission
from audit.optics.onset import field_angle_at_loss
from benchmarks.lens_world.lenses import TracedLens
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


def pupil(lens: Lens | None, focal_mm: float, f_number: float) -> Pupil:
    """The pupil that the verdicts would take for that lens."""
    geometry = Geometry(focal_mm, f_number, WIDTH_MM, HEIGHT_MM)
    return pupil_of(geometry, pupil_depth(lens, geometry))


@dataclass(frozen=True)
class Missed:
    """By how much a pupil misses behind one opening.

    `onset_deg` of 3 %, at most 5; `share`: mean absolute difference of the share that passes, from 0.6 of the
    corner's tangent to the corner.
    """

    f_number: float
    onset_deg: float
    share: float


def missed(truth: TracedLens, model: Pupil, hole: Hole) -> Missed | None:
    """None where the opening does not cut that lens' picture."""
    true = onset_deg(truth, model.f_number, [hole], ONSET)
    if true > truth.corner_deg:
        return None
    circle = Circle(hole.radius_mm, hole.z_mm)
    found = field_angle_at_loss(-math.log2(ONSET), model, [circle])
    tangents = np.linspace(0.6, 1.0, 24) * np.tan(np.radians(truth.corner_deg))
    theta = np.degrees(np.arctan(tangents))
    real = np.array([share(truth, float(t), model.f_number, [hole]) for t in theta])
    off = np.abs(transmission(tangents, 0.0, model, [circle]) - real)
    return Missed(model.f_number, min(abs(found - true), 5.0), float(off.mean()))


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
