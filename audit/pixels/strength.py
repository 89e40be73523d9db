"""Strength of filters from frames of one scene: what the exposures and the pictures differ by is the filter.

y = picture + exposure of a frame is the scene's light less the filter. The light may drift, so that its
drift is fitted with the rest: frames without filters before and after take it out, repeated ones narrow it,
and where the frames say nothing of it, what daylight commonly does stands in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audit.message.text import marked
from audit.optics.arrays import Floats

SURE = 1.96
"""Of a standard deviation: 95 % of a normal error."""
SLOPE_STOPS = 0.15
"""Drift of daylight per minute (1 sigma), 0.3 at 95 %: common practice, no source."""
WANDER_STOPS = 0.05
"""How far the drift itself leaves a straight line within a minute, growing with the root of time (1 sigma):
common practice, no source."""
STEP_STOPS = 0.01
"""How far a shutter repeats itself (1 sigma): common practice, no source."""
CURVE_SHARE = 0.8
"""Of the variance of a picture difference: the tone curve's part, the same in all frames exposed alike."""
CURVE_FROM_STOPS = 0.25
"""Differences below are too small for the tone curve to matter."""
ALIKE_SHARE = 0.5
"""Of the variance that a held light leaves: the same in every scene (one camera, one change of aperture)."""
NONE = float("nan")


@dataclass(frozen=True)
class Sighting:
    """One frame of a scene. `minute` is the middle of its exposure, `picture_stops` how much brighter its
    picture is than the scene's frame of reference, `worn` what darkened it ("" nothing).

    Every `_err` is a 95 % half width: `minute_err` of the time, `ev_err` of ev100 against the reference.
    """

    frame: str
    minute: float
    minute_err: float
    ev100: float
    ev_err: float
    picture_stops: float
    picture_err_stops: float
    worn: str


@dataclass(frozen=True)
class MeasuredStrength:
    """What a filter takes, in stops. 95 % half widths: `held_err_stops` if the light held, `err_stops` with
    changing light in it. `count` frames went into it; `why` says why there is none (all numbers NaN)."""

    stops: float
    held_err_stops: float
    err_stops: float
    count: int
    why: str


def strengths(sightings: Sequence[Sighting]) -> dict[str, MeasuredStrength]:
    """The strength of each `worn` but "", from frames of one scene that share one frame of reference.

    Generalised least squares; nothing is assumed of the strengths or of the light's level.
    """
    names = sorted({s.worn for s in sightings if s.worn})
    told = [s for s in sightings if _is_told(s)]
    clear = any(not s.worn for s in told)
    seen = [name for name in names if clear and any(s.worn == name for s in told)]
    found = _fitted([s for s in told if not s.worn or s.worn in seen], seen) if seen else {}
    why = marked("no frame without filters can be compared")
    if clear:
        why = marked("no frame shows it that can be compared")
    return {name: found.get(name, MeasuredStrength(NONE, NONE, NONE, 0, why)) for name in names}


def pooled(found: Sequence[MeasuredStrength]) -> MeasuredStrength:
    """One strength from those of several scenes, with what they scatter by in its range.

    A part of what each scene may be off by is the same in all (one camera's tone curve, one aperture), so
    that many scenes do not make it vanish. Those that were not measured are left out.
    """
    told = [one for one in found if not one.why]
    if not told:
        why = next((one.why for one in found), marked("never measured"))
        return MeasuredStrength(NONE, NONE, NONE, 0, why)
    if len(told) == 1:
        return told[0]
    stops, held, err = (
        np.array(column)
        for column in zip(*((s.stops, s.held_err_stops, s.err_stops) for s in told), strict=True)
    )
    var, held_var = (err / SURE) ** 2, (held / SURE) ** 2
    scatter = _scatter(stops, var)
    weight = 1 / (var + scatter)
    weight /= weight.sum()
    root = math.sqrt(ALIKE_SHARE)
    alike = float(weight @ (root * np.sqrt(held_var))) ** 2
    own = float(weight**2 @ (held_var * (1 - ALIKE_SHARE) + scatter))
    light = float(weight**2 @ (var - held_var))
    held_err, full = math.sqrt(alike + own), math.sqrt(alike + own + light)
    return MeasuredStrength(
        float(weight @ stops), SURE * held_err, SURE * full, sum(one.count for one in told), ""
    )


def _is_told(one: Sighting) -> bool:
    return all(map(math.isfinite, (one.minute, one.ev100, one.picture_stops, one.picture_err_stops)))


def _fitted(told: list[Sighting], names: list[str]) -> dict[str, MeasuredStrength]:
    """Two rounds: the second knows how fast the light drifts, and so what a doubtful time costs."""
    y = np.array([s.picture_stops + s.ev100 for s in told])
    rows = np.array([[1.0, *(-float(s.worn == name) for name in names)] for s in told])
    minutes = np.array([s.minute for s in told])
    still, drift = _still(told), _drift(minutes)
    slope = SLOPE_STOPS
    for _ in range(2):
        light = drift + slope**2 * _doubtful_times(told)
        inverse: Floats = np.asarray(np.linalg.inv(still + light))
        weights = np.linalg.solve(rows.T @ inverse @ rows, rows.T @ inverse)
        missed = inverse @ (y - rows @ (weights @ y))
        slope = _slope(minutes - minutes.mean(), missed, inverse, rows)
    values = weights @ y
    held = np.einsum("ij,jk,ik->i", weights, still, weights)
    changing = np.einsum("ij,jk,ik->i", weights, light, weights)
    return {
        name: MeasuredStrength(
            float(values[i]),
            SURE * math.sqrt(held[i]),
            SURE * math.sqrt(held[i] + changing[i]),
            sum(s.worn == name for s in told),
            "",
        )
        for i, name in enumerate(names, start=1)
    }


def _still(told: list[Sighting]) -> Floats:
    """Covariance of what is off while the light holds: pictures, exposures."""
    err = np.array([s.picture_err_stops for s in told]) / SURE
    step = np.array([s.picture_stops for s in told])
    # One curve is wrong by the same share for all: what it adds follows the size and the sign of the step.
    curve = math.sqrt(CURVE_SHARE) * err * np.clip(step / CURVE_FROM_STOPS, -1, 1)
    exposure = np.array([s.ev_err for s in told]) / SURE
    out: Floats = np.outer(curve, curve) + np.diag(err**2 - curve**2 + STEP_STOPS**2)
    return out + np.outer(exposure, exposure) * _same(told)


def _drift(minutes: Floats) -> Floats:
    """Covariance of light that drifts: a slope, and wandering about it since the first frame."""
    since = minutes - minutes.min()
    middle = minutes - minutes.mean()
    out: Floats = SLOPE_STOPS**2 * np.outer(middle, middle)
    return out + WANDER_STOPS**2 * np.minimum(since[:, None], since[None, :])


def _doubtful_times(told: list[Sighting]) -> Floats:
    """Covariance of the times, in square minutes: a stamp's custom is the same for all frames alike."""
    err = np.array([s.minute_err for s in told]) / SURE
    out: Floats = np.outer(err, err) * _same(told)
    return out


def _same(told: list[Sighting]) -> Floats:
    """1 where two frames wore the same."""
    worn = np.array([s.worn for s in told])
    return (worn[:, None] == worn[None, :]).astype(np.float64)


def _slope(middle: Floats, missed: Floats, inverse: Floats, rows: Floats) -> float:
    """Root mean square of the drift per minute, once the frames have spoken."""
    there = SLOPE_STOPS**2 * middle
    mean = float(there @ missed)
    free = inverse - inverse @ rows @ np.linalg.solve(rows.T @ inverse @ rows, rows.T @ inverse)
    spread = max(SLOPE_STOPS**2 - float(there @ free @ there), 0.0)
    return math.sqrt(mean**2 + spread)


def _scatter(stops: Floats, var: Floats) -> float:
    """Variance between scenes beyond their own: that which makes them agree (Paule and Mandel 1982)."""

    def excess(between: float) -> float:
        weight = 1 / (var + between)
        mean = float(weight @ stops / weight.sum())
        return float(weight @ (stops - mean) ** 2) - (len(stops) - 1)

    low, high = 0.0, float(np.ptp(stops)) ** 2 * len(stops)
    if excess(0.0) <= 0:
        return 0.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if excess(middle) > 0 else (low, middle)
    return high
