"""What test frames say of a lens' entrance pupil."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from audit.kit.part import KitValue
from audit.optics.calibrate import DepthFit


@dataclass(frozen=True)
class FrameCut:
    """One frame that shows a cut: degrees measured and predicted by the fit, and what it was measured by."""

    frame: str
    focal_length_mm: float
    f_number: float
    rig_words: str
    against: str
    level_stops: float
    measured_deg: float
    err_deg: float
    predicted_deg: float

    @property
    def residual_deg(self) -> float:
        """Measured less predicted."""
        return self.measured_deg - self.predicted_deg


@dataclass(frozen=True)
class Calibration:
    """What the test frames say of one lens. `passed_over`: frames that were not used, with the reason.

    `values` are the keys for the kit, None for keys that must go; errors are 95 % half widths.
    """

    lens_id: str
    fit: DepthFit
    frames: tuple[FrameCut, ...]
    passed_over: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    values: Mapping[str, KitValue]


def kit_values(fit: DepthFit, *, prime: bool) -> dict[str, KitValue]:
    """Keys for the kit, rounded to a tenth of a millimetre, errors upwards; a zoom's go by focal length."""
    drift = fit.drift_mm is not None and fit.drift_err_mm is not None
    values: dict[str, KitValue] = {
        "pupil_depth_mm": None,
        "pupil_depth_err_mm": None,
        "pupil_depths": None,
        "pupil_drift_mm": round(fit.drift_mm or 0.0, 1) if drift else None,
        "pupil_drift_err_mm": _upwards(fit.drift_err_mm or 0.0) if drift else None,
    }
    if prime:
        _, depth, err, _ = fit.depths[0]
        return values | {"pupil_depth_mm": round(depth, 1), "pupil_depth_err_mm": _upwards(err)}
    return values | {"pupil_depths": [[round(f, 1), round(d, 1), _upwards(e)] for f, d, e, _ in fit.depths]}


def _upwards(err_mm: float) -> float:
    return math.ceil(err_mm * 10 - 1e-9) / 10
