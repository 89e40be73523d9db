"""A lens' entrance pupil from where openings of known size cut its corners.

Depth, drift and radial growth are found together for each focal length, and apart for frames wide open, by
least squares with what is known of lenses before (Student for drift and growth) and the full covariance
of the readings. With bore and depth both free they could not be told apart, so the bore is given and its
error carried along: a caliper's error does not average out over frames.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audit.optics.arrays import Floats
from audit.optics.cut_model import CutModel
from audit.optics.cuts import Cut
from audit.optics.pupils import (
    DEPTH,
    DRIFT,
    GROWTH,
    HALF_WIDTH,
    TAIL,
    WIDE_OPEN_SHIFT,
    WIDE_OPEN_SPREAD,
    Told,
    prior,
)

SCAN_MM = np.arange(-20.0, 90.1, 2.0)
"""Depths among which the first one is looked for."""
MOST_STEPS, HALVINGS, FARTHEST_STEP, CLOSE = 12, 5, np.array([10.0, 4.0, 0.5]), 1e-3
MOST_MISFIT = 3.0
"""By how many times their errors the cuts may contradict each other before all is refused."""
DEPTH_SPREAD_MM = 30.0
"""1 sigma of the depth around where it was looked for first: nothing is known of it before."""


class CalibrationRefused(ValueError):
    """The cuts do not tell a pupil; the message is the reason."""


@dataclass(frozen=True)
class Fitted:
    """The pupil at one focal length.

    Attributes
    ----------
    focal_length_mm : mean of the frames' [mm]
    wide_open : whether from frames below WIDE_OPEN_BELOW [-]
    told : the pupil [-]
    """

    focal_length_mm: float
    wide_open: bool
    told: Told

    def value(self, which: int) -> float:
        """One of the four numbers of the pupil.

        Parameters
        ----------
        which : DEPTH, DRIFT, GROWTH or FIELD [-]

        Returns
        -------
        its value, in its own unit [-]

        Source
        ------
        The fit.
        """
        return float(self.told.values[which])

    def err(self, which: int) -> float:
        """How far one of the four numbers may be off.

        Parameters
        ----------
        which : DEPTH, DRIFT, GROWTH or FIELD [-]

        Returns
        -------
        95 % half width, in its own unit [-]

        Source
        ------
        The fit.
        """
        return HALF_WIDTH * float(np.sqrt(self.told.covariance[which, which]))


@dataclass(frozen=True)
class PupilFit:
    """What the cuts tell.

    Attributes
    ----------
    pupils : by focal length, at each stopped down before wide open [-]
    residuals_deg : seen less predicted, for each cut [deg]
    predicted_deg : angle of each cut by the fit [deg]
    misfit : root mean square of the residuals in units of their error [1]
    chi_square : sum of their squares [1]
    """

    pupils: tuple[Fitted, ...]
    residuals_deg: tuple[float, ...]
    predicted_deg: tuple[float, ...]
    misfit: float
    chi_square: float

    @property
    def depth_mm(self) -> float:
        """Depth at the shortest focal length [mm]."""
        return self.pupils[0].value(DEPTH)

    @property
    def depth_err_mm(self) -> float:
        """Its error, 95 % half width [mm]."""
        return self.pupils[0].err(DEPTH)

    @property
    def drift_mm(self) -> float:
        """Drift at the shortest focal length [mm]."""
        return self.pupils[0].value(DRIFT)

    @property
    def drift_err_mm(self) -> float:
        """Its error, 95 % half width [mm]."""
        return self.pupils[0].err(DRIFT)


def fit_pupil(cuts: Sequence[Cut], half_diagonal_mm: float, *, most_misfit: float = MOST_MISFIT) -> PupilFit:
    """Depth, drift and growth at each focal length.

    Parameters
    ----------
    cuts : in any order; no NaN [-]
    half_diagonal_mm : of the picture [mm]
    most_misfit : by how many times their errors the cuts may contradict each other [1]

    Returns
    -------
    the pupils with their errors [-]

    Raises
    ------
    CalibrationRefused
        Without cuts, where no depth explains them, and where they contradict each other.

    Source
    ------
    Own derivation: least squares with priors and a full covariance, as the top of this module tells.
    """
    if not cuts:
        raise CalibrationRefused("no cut in any frame; photograph a rig that darkens the corners")
    model = CutModel(tuple(cuts), half_diagonal_mm)
    found = _solve(model)
    if found.misfit > most_misfit:
        raise CalibrationRefused(
            f"the frames contradict each other ({found.misfit:.1f} times their errors); "
            "look at the rigs declared"
        )
    return PupilFit(
        tuple(_fitted(model, found, group) for group in range(len(model.groups))),
        tuple((model.seen - found.predicted).tolist()),
        tuple(found.predicted.tolist()),
        found.misfit,
        found.chi_square,
    )


@dataclass(frozen=True)
class _Solution:
    """Numbers of every group (groups, 3), then those of the focal lengths; the covariance of all."""

    pupils: Floats
    field: Floats
    covariance: Floats
    predicted: Floats
    misfit: float
    chi_square: float


def _solve(model: CutModel) -> _Solution:
    """Gauss-Newton with the full covariance; what is known before enters as more observations."""
    pupils, field = _start(model), np.zeros(int(model.focal_number.max()) + 1)
    most = np.append(np.tile(FARTHEST_STEP, len(pupils)), np.full(len(field), 2.0))
    for _ in range(MOST_STEPS):
        predicted = model.predict(pupils, field)
        slopes = model.slopes(pupils, field, predicted)
        covariance = model.covariance(pupils, field, predicted, slopes[:, DRIFT])
        inverse = np.asarray(np.linalg.inv(covariance))
        known, lack, weight = _known_before(model, pupils, field)
        rows = _jacobian(model, slopes, len(field))
        normal = rows.T @ inverse @ rows + known.T @ (weight[:, None] * known)
        right = rows.T @ inverse @ (model.seen - predicted) + known.T @ (weight * lack)
        step = np.clip(np.linalg.solve(normal, right), -most, most)
        before = _chi(model, pupils, field, inverse)
        for _ in range(HALVINGS):
            tried = pupils + step[: pupils.size].reshape(-1, 3), field + step[pupils.size :]
            if _chi(model, *tried, inverse) <= before:
                break
            step = step / 2
        pupils, field = tried
        if np.max(np.abs(step)) < CLOSE:
            break
    chi = _chi(model, pupils, field, inverse, tails=False)
    misfit = np.sqrt(chi / max(1, len(model.cuts) - len(pupils)))
    told = np.asarray(np.linalg.inv(normal))
    return _Solution(pupils, field, told, model.predict(pupils, field), float(misfit), chi)


def _chi(model: CutModel, pupils: Floats, field: Floats, inverse: Floats, *, tails: bool = True) -> float:
    """What is left of the readings, and of what is known before, in units of their errors, squared.

    Without tails a lens far from all others counts in full.
    """
    miss = model.seen - model.predict(pupils, field)
    _, lack, weight = _known_before(model, pupils, field, tails=tails)
    return float(miss @ inverse @ miss + weight @ lack**2)


def _start(model: CutModel) -> Floats:
    """The depth that comes nearest to each group's cuts, with the usual drift and growth."""
    out = []
    for group in range(len(model.groups)):
        best = model.nearest_depth(group, SCAN_MM)
        if best in (0, len(SCAN_MM) - 1):
            raise CalibrationRefused(
                f"no depth between {SCAN_MM[0]:.0f} and {SCAN_MM[-1]:.0f} mm puts the cut where the "
                "frames show it; look at the rig declared and its dimensions"
            )
        out.append(model.usual(group, float(SCAN_MM[best])))
    return np.array(out)


def _jacobian(model: CutModel, slopes: Floats, focal_lengths: int) -> Floats:
    """Slopes of the cuts for all unknowns: three of each group, then one of each focal length."""
    rows, unknown = np.arange(len(model.cuts)), 3 * len(model.groups)
    out = np.zeros((len(rows), unknown + focal_lengths))
    for n in range(3):
        out[rows, 3 * model.group + n] = slopes[:, n]
    out[rows, unknown + model.focal_number] = model.field_slope
    return out


def _known_before(
    model: CutModel, pupils: Floats, field: Floats, *, tails: bool = True
) -> tuple[Floats, Floats, Floats]:
    """What is known before: rows of the unknowns, by how much they lack it, and its weight.

    Wide open is known from the same focal length stopped down, where that has frames too.
    """
    every = np.eye(pupils.size + len(field))
    rows, lack, weight = list(every[pupils.size :]), list(-field), [1.0] * len(field)
    rows += list(every[0 : pupils.size : 3])
    lack += [0.0] * len(pupils)
    weight += [DEPTH_SPREAD_MM**-2.0] * len(pupils)
    for g, (number, wide_open) in enumerate(model.groups):
        own, now = every[3 * g : 3 * g + 3], pupils[g]
        if wide_open and (number, False) in model.groups:
            other = model.groups.index((number, False))
            rows += list(own - every[3 * other : 3 * other + 3])
            lack += list(WIDE_OPEN_SHIFT - (now - pupils[other]))
            weight += list(np.square(WIDE_OPEN_SPREAD) ** -1.0)
            continue
        usual = prior(model.focal_mm(g), float(now[DEPTH]), model.half_diagonal_mm)
        away = np.array([usual.drift_mm - now[DRIFT], usual.growth - now[GROWTH]])
        sigma = np.array([usual.drift_err_mm, usual.growth_err])
        rows += list(own[[DRIFT, GROWTH]])
        lack += list(away)
        weight += list(((TAIL + 1) / (TAIL + (away / sigma) ** 2) if tails else 1.0) / sigma**2)
    return np.array(rows), np.array(lack), np.array(weight)


def _fitted(model: CutModel, found: _Solution, group: int) -> Fitted:
    """A group's pupil with its part of the covariance."""
    number, wide_open = model.groups[group]
    rows = [3 * group, 3 * group + 1, 3 * group + 2, found.pupils.size + number]
    values = np.append(found.pupils[group], found.field[number])
    return Fitted(model.focal_mm(group), wide_open, Told(values, found.covariance[np.ix_(rows, rows)]))
