"""What test frames say of a lens' entrance pupil."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from audit.corners.plausible import Doubt
from audit.kit.part import KitRow, KitValue
from audit.kit.pupil import BY_HAND
from audit.optics.calibrate import Fitted, PupilFit
from audit.optics.pupils import DEPTH, DRIFT, FIELD, GROWTH


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
    `doubts`: what speaks against it.

    `values` are the keys for the kit, None for keys that must go; errors are 95 % half widths.
    """

    lens_id: str
    fit: PupilFit
    frames: tuple[FrameCut, ...]
    passed_over: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    doubts: tuple[Doubt, ...]
    values: Mapping[str, KitValue]


def kit_values(fit: PupilFit) -> dict[str, KitValue]:
    """Keys for the kit, rounded finely enough for a tenth of a millimetre, errors upwards."""
    return {**dict.fromkeys(BY_HAND), "calibrated": [_row(one) for one in fit.pupils]}


def _row(one: Fitted) -> KitRow:
    sigma = np.sqrt(np.diag(one.told.covariance))
    alike = one.told.covariance / np.outer(sigma, sigma)
    row: KitRow = {"focal_mm": round(one.focal_length_mm, 1)}
    if one.wide_open:
        row["wide_open"] = True
    return row | {
        "depth_mm": round(one.value(DEPTH), 2),
        "drift_mm": round(one.value(DRIFT), 2),
        "growth": round(one.value(GROWTH), 2),
        "field": round(one.value(FIELD), 2),
        "err": [_upwards(one.err(number)) for number in range(4)],
        "together": [round(float(alike[pair]), 3) for pair in zip(*np.triu_indices(4, 1), strict=True)],
    }


def _upwards(err: float) -> float:
    return math.ceil(err * 100 - 1e-9) / 100
