"""Corner loss predicted for each frame's own rig, as a band, with a verdict."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.model.kit import PUPIL_BAND_MM, PUPIL_DEPTH_MM, Kit, Lens, PupilDepth
from audit.model.rig import Opening, Rig
from audit.optics.corners import EARLY_DEG, LATE_DEG, circle_transmission, loss_stops, tangent_at_loss, turned
from audit.optics.rules import rule_of_thumb

CLEAR_STOPS = 0.1
"""Clear: less than this lost in the corner even at the worst end of the band."""
CUT_STOPS = 0.5
"""Cut: this or more lost in the corner even at the best end of the band."""
MAKES_A_BAND = ["rig", "lens_id", "focal_length_mm", "f_number_exact", "sensor_width_mm", "sensor_height_mm"]
"""Frames alike in these have the same corners."""


@dataclass(frozen=True)
class Band:
    """Predicted corner of one combination; losses in stops, best and worst end."""

    angle_deg: float
    loss_min_stops: float
    loss_max_stops: float
    verdict: str
    why: str
    assumed: tuple[str, ...]


def pupil_depth(lens: Lens | None) -> PupilDepth:
    """Entrance pupil behind the filter thread; the default dimension for a lens that is not in the kit."""
    return lens.pupil if lens else PupilDepth(PUPIL_DEPTH_MM, *PUPIL_BAND_MM, ("pupil depth of the lens",))


def predict(
    openings: tuple[Opening, ...],
    focal_length_mm: float,
    f_number: float,
    half_diagonal_mm: float,
    lens: Lens | None,
    sensor_err: float = 0.0,
) -> Band:
    """Band of the corner loss behind circular openings, each alone; the one that cuts most limits.

    The best end takes the shallow pupil and the late end of the model's error, the worst end the deep
    pupil, the early end and the larger sensor.
    """
    depth = pupil_depth(lens)
    pupil_radius = focal_length_mm / (2 * f_number)
    tangent = half_diagonal_mm / focal_length_mm
    best = turned(tangent * (1 - sensor_err), -LATE_DEG)
    worst = turned(tangent * (1 + sensor_err), EARLY_DEG)
    if not openings:
        return Band(_degrees(tangent), 0.0, 0.0, "clear", "nothing in front of the lens", ())
    least = [_loss(best, pupil_radius, o, depth.low_mm) for o in openings]
    most = [_loss(worst, pupil_radius, o, depth.high_mm) for o in openings]
    limits = min(
        openings,
        key=lambda o: tangent_at_loss(
            CUT_STOPS, pupil_radius, o.diameter_mm / 2, depth.high_mm + o.distance_mm
        ),
    )
    low, high = max(least), max(most)
    verdict = "clear" if high < CLEAR_STOPS else "cut" if low >= CUT_STOPS else "at risk"
    assumed = tuple(dict.fromkeys((*depth.assumed, *(a for o in openings for a in o.assumed))))
    return Band(_degrees(tangent), low, high, verdict, limits.name, assumed)


def limit_radii_mm(
    openings: tuple[Opening, ...], focal_length_mm: float, f_number: float, lens: Lens | None, loss: float
) -> tuple[float, float]:
    """Radius in the picture where the loss is reached, (worst, best end) of the band, mm; inf: nowhere."""
    depth = pupil_depth(lens)
    pupil_radius = focal_length_mm / (2 * f_number)

    def radius(depth_mm: float, shift_deg: float) -> float:
        tangents = [
            tangent_at_loss(loss, pupil_radius, o.diameter_mm / 2, depth_mm + o.distance_mm) for o in openings
        ]
        return focal_length_mm * float(turned(min(tangents), shift_deg)) if tangents else float("inf")

    return radius(depth.high_mm, -EARLY_DEG), radius(depth.low_mm, LATE_DEG)


def add_corners(frames: pd.DataFrame, rigs: Mapping[str, Rig], kit: Kit) -> pd.DataFrame:
    """Fills the corner and rule columns; one prediction for each distinct combination."""
    lenses = {lens.id: lens for lens in kit.lenses}
    names = ["angle_deg", "loss_min_stops", "loss_max_stops", "verdict", "why", "assumed"]
    bands: dict[tuple[object, ...], tuple[Band, str, str]] = {}
    rows = []
    for row in frames[[*MAKES_A_BAND, "sensor_err", "declaration", "problem"]].itertuples(index=False):
        key = tuple(None if _missing(v) else v for v in row)
        if key not in bands:
            bands[key] = _one(dict(zip(row._fields, key, strict=True)), rigs, lenses)
        rows.append(bands[key])
    out = {f"corner_{name}": [getattr(band, name) for band, _, _ in rows] for name in names}
    out["corner_assumed"] = [list(a) for a in out["corner_assumed"]]
    return frames.assign(**out, rule_verdict=[v for _, v, _ in rows], rule_words=[w for _, _, w in rows])


def _one(
    row: dict[str, object], rigs: Mapping[str, Rig], lenses: Mapping[str, Lens]
) -> tuple[Band, str, str]:
    why_not = _why_not(row)
    if why_not:
        return Band(np.nan, np.nan, np.nan, "not measurable", why_not, ()), "silent", why_not
    rig = rigs[str(row["rig"])]
    lens = lenses.get(str(row["lens_id"]))
    focal = float(row["focal_length_mm"])  # type: ignore[arg-type]
    diagonal = float(np.hypot(row["sensor_width_mm"], row["sensor_height_mm"]))  # type: ignore[call-overload]
    band = predict(
        rig.openings,
        focal,
        float(row["f_number_exact"]),  # type: ignore[arg-type]
        diagonal / 2,
        lens,
        float(row["sensor_err"] or 0.0),  # type: ignore[arg-type]
    )
    if not rig.openings:
        return band, "silent", "no rule for a bare lens"
    thread = lens.thread_mm if lens else None
    return band, *rule_of_thumb(focal, diagonal, rig.ring_kind, bool(rig.second_holder), thread)


def _why_not(row: dict[str, object]) -> str:
    """Why no corner can be predicted, or an empty text."""
    if row["problem"]:
        return "the file could not be read"
    if row["declaration"] not in ("worn", "bare"):
        return f"the rig is {row['declaration']}"
    missing = {
        "focal_length_mm": "focal length unknown",
        "f_number_exact": "f-number unknown",
        "sensor_width_mm": "sensor size unknown",
    }
    return "; ".join(words for name, words in missing.items() if row[name] is None)


def _loss(tangent: object, pupil_radius_mm: float, opening: Opening, depth_mm: float) -> float:
    passed = circle_transmission(
        np.asarray(tangent), pupil_radius_mm, opening.diameter_mm / 2, depth_mm + opening.distance_mm
    )
    return float(loss_stops(passed))


def _degrees(tangent: float) -> float:
    return float(np.degrees(np.arctan(tangent)))


def _missing(value: object) -> bool:
    return value is None or value is pd.NA or (isinstance(value, float) and np.isnan(value))
