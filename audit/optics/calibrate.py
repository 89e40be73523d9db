"""Depth and drift of a lens' entrance pupil from where openings of known size cut its corners.

The fit is linear least squares around a scan's best depth, with a full covariance: the error of measuring,
one draw of the bore for each opening (a caliper's error does not average out over frames), and the
model's own error, one draw for each cut radius. With bore and depth both free they could not be told
apart, so the bore is given and its error carried along.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from audit.optics.arrays import Floats
from audit.optics.corners import Circle, Opening, Pupil, default_pupil
from audit.optics.onset import field_angle_at_loss

MODEL_DEG, MODEL_ONE_DEPTH_DEG = 0.2, 0.35
"""1 sigma of the onset's error on ray-traced lenses, with depth and drift fitted and with one depth."""
SAME_RADIUS_DEG = 2.0
"""Cuts nearer to each other than about this share the model's error."""
DRIFT_SPREAD_MM = 1.0
"""1 sigma of a lens' own drift around the default: five traced wide lenses spread by 0.95 mm."""
RADII_APART_DEG = 2.0
"""Cut radii further apart than this tell something of the drift; nearer ones share the model's error."""
FAR_APART = 1.10
"""Focal lengths whose ratio is larger have each a depth of their own."""
BORE_ERR_MM, HEIGHT_ERR_MM = 0.3, 0.1
"""1 sigma of a diameter and a height measured by hand with a caliper: common practice, no source."""
ASSUMED_BORE_ERR_MM, ASSUMED_HEIGHT_ERR_MM = 1.5, 1.0
"""The same where a default dimension stands in: assumed."""
TONE_ERR = 0.2
"""1 sigma of the share by which an unknown JPEG tone curve misreads a loss, alike in all frames of a camera.

Brackets of real cameras read with the same curve: 0.1 and less; our own steepest invented curve: 0.25.
"""
GROWTH_ERR = 0.25
"""1 sigma of the exponents of the bundle's growth: how far traced lenses lie from the default, roughly."""
SAME_FRAME = 0.7
"""Correlation of the errors of measuring two losses in one frame: both hang on its uncut level."""
HALF_WIDTH = 1.96
SCAN_MM = np.arange(-20.0, 90.1, 2.0)


class CalibrationRefused(ValueError):
    """The cuts do not tell a depth; the message is the reason."""


@dataclass(frozen=True)
class Part:
    """An opening that was worn, and its errors (1 sigma).

    Attributes
    ----------
    name : equal where the same piece was worn [-]
    opening : as worn [-]
    bore_err_mm : of the diameter or width [mm]
    height_err_mm : of the distance from the lens [mm]
    """

    name: str
    opening: Opening
    bore_err_mm: float = BORE_ERR_MM
    height_err_mm: float = HEIGHT_ERR_MM

    def wider(self, step_mm: float) -> Part:
        """The part with its diameter (or width) larger by a step.

        Parameters
        ----------
        step_mm : [mm]

        Returns
        -------
        the changed part [-]

        Source
        ------
        Geometry.
        """
        o = self.opening
        if isinstance(o, Circle):
            return replace(self, opening=replace(o, radius_mm=o.radius_mm + step_mm / 2))
        return replace(self, opening=replace(o, width_mm=o.width_mm + step_mm))

    def higher(self, step_mm: float) -> Part:
        """The part farther from the lens by a step.

        Parameters
        ----------
        step_mm : [mm]

        Returns
        -------
        the changed part [-]

        Source
        ------
        Geometry.
        """
        return replace(self, opening=replace(self.opening, distance_mm=self.opening.distance_mm + step_mm))


@dataclass(frozen=True)
class Cut:
    """What one frame shows: the mean field angle at which its usable corners lose `level_stops`.

    Attributes
    ----------
    name : of the frame, which gives one cut for each loss [-]
    focal_length_mm : [mm]
    f_number : [1]
    level_stops : the loss [stop]
    angle_deg : where it is reached [deg]
    err_deg : of measuring (1 sigma) [deg]
    directions : of the corners that were averaged, in the optics' axes [1]
    parts : what was worn [-]
    """

    name: str
    focal_length_mm: float
    f_number: float
    level_stops: float
    angle_deg: float
    err_deg: float
    directions: tuple[tuple[float, float], ...]
    parts: tuple[Part, ...]


@dataclass(frozen=True)
class DepthFit:
    """Depths by focal length; every error is a 95 % half width.

    Attributes
    ----------
    depths : of each (focal length, depth, error, error on the axis) [mm]
        The error is that of the depth as it is used, together with the drift given or the default drift; the
        error on the axis is that of the pupil's true place and holds what is not known of the drift.
    drift_mm : at the focal length of the first cut, None where the cuts do not tell it [mm]
    drift_err_mm : its error, None where `drift_mm` is [mm]
    residuals_deg : seen less predicted, for each cut [deg]
    predicted_deg : angle of each cut by the fit [deg]
    misfit : root mean square of the residuals in units of their error [1]
    """

    depths: tuple[tuple[float, float, float, float], ...]
    drift_mm: float | None
    drift_err_mm: float | None
    residuals_deg: tuple[float, ...]
    predicted_deg: tuple[float, ...]
    misfit: float

    @property
    def depth_mm(self) -> float:
        """Depth at the shortest focal length [mm]."""
        return self.depths[0][1]

    @property
    def depth_err_mm(self) -> float:
        """Its error on the axis [mm]."""
        return self.depths[0][3]


def fit_depth(
    cuts: Sequence[Cut], half_diagonal_mm: float, *, drift: bool = True, most_misfit: float = 3.0
) -> DepthFit:
    """One depth for each group of focal lengths, and the drift where the cuts tell it.

    Parameters
    ----------
    cuts : in any order; no NaN [-]
    half_diagonal_mm : of the picture [mm]
    drift : whether the drift may be fitted [-]
    most_misfit : by how many times their errors the cuts may contradict each other [1]

    Returns
    -------
    depths and drift with their errors [-]

    Raises
    ------
    CalibrationRefused
        Without cuts, where no depth explains them, and where they contradict each other.

    Source
    ------
    Own derivation: linear least squares with a full covariance, as the top of this module tells.
    """
    if not cuts:
        raise CalibrationRefused("no cut in any frame; photograph a rig that darkens the corners")
    problem = _Problem(tuple(cuts), half_diagonal_mm, tuple(_groups(cuts)))
    start = [problem.scan(group) for group in range(max(problem.group) + 1)]
    one = problem.solve(start, MODEL_ONE_DEPTH_DEG, fixed_drift=True)
    both = problem.solve(list(one.depths), MODEL_DEG, fixed_drift=False)
    told = drift and problem.radii_apart_deg() > RADII_APART_DEG
    best = both if told else one
    if best.misfit > most_misfit:
        raise CalibrationRefused(
            f"the frames contradict each other ({best.misfit:.1f} times their errors); "
            "look at the rigs declared"
        )
    depths = tuple(
        (
            problem.focal(g),
            float(best.depths[g]),
            HALF_WIDTH * float(best.err[g]),
            HALF_WIDTH * float(max(best.err[g], both.err[g])),
        )
        for g in range(len(start))
    )
    return DepthFit(
        tuple(sorted(depths)),
        float(best.drift(problem)) if told else None,
        HALF_WIDTH * float(both.err[-1]) if told else None,
        tuple(float(c.angle_deg - p) for c, p in zip(cuts, best.predicted, strict=True)),
        tuple(float(p) for p in best.predicted),
        float(best.misfit),
    )


def _groups(cuts: Sequence[Cut]) -> list[int]:
    """Number of the group of each cut: a new one where the focal length jumps by more than FAR_APART."""
    number, first, of = -1, 0.0, {}
    for focal in sorted({cut.focal_length_mm for cut in cuts}):
        if number < 0 or focal > FAR_APART * first:
            number, first = number + 1, focal
        of[focal] = number
    return [of[cut.focal_length_mm] for cut in cuts]


@dataclass(frozen=True)
class _Solution:
    depths: Floats
    extra_mm: float
    err: Floats
    predicted: Floats
    misfit: float

    def drift(self, problem: _Problem) -> float:
        """The drift itself: the default of the first focal length plus what was found beside it."""
        cut = problem.cuts[0]
        depth = float(self.depths[problem.group[0]])
        return problem.pupil(cut, depth, self.extra_mm).drift_mm


@dataclass(frozen=True)
class _Problem:
    """The cuts with their groups; every prediction in degrees."""

    cuts: tuple[Cut, ...]
    half_diagonal_mm: float
    group: tuple[int, ...]

    def radii_apart_deg(self) -> float:
        """Largest distance between the cuts of two frames of one group, each at the loss told best."""
        best = {
            cut.name: (g, cut.angle_deg) for cut, g in reversed(list(zip(self.cuts, self.group, strict=True)))
        }
        groups = {g for g, _ in best.values()}
        return max(float(np.ptp([angle for g, angle in best.values() if g == group])) for group in groups)

    def focal(self, group: int) -> float:
        """Mean focal length of a group."""
        return float(
            np.mean([c.focal_length_mm for c, g in zip(self.cuts, self.group, strict=True) if g == group])
        )

    def pupil(self, cut: Cut, depth_mm: float, extra_mm: float, growth: float = 0.0) -> Pupil:
        """The default pupil at a depth, its drift and both growths changed."""
        pupil = default_pupil(
            cut.focal_length_mm, cut.f_number, depth_mm, half_diagonal_mm=self.half_diagonal_mm
        )
        return replace(
            pupil,
            drift_mm=pupil.drift_mm + extra_mm,
            radial_growth=pupil.radial_growth + growth,
            tangential_growth=pupil.tangential_growth + growth,
        )

    def predict(
        self,
        depths: Sequence[float] | Floats,
        extra_mm: float,
        parts: Sequence[tuple[Part, ...]] | None = None,
        tone: float = 1.0,
        growth: float = 0.0,
    ) -> Floats:
        """Angle of every cut, mean over its corners; `tone`: by how much losses are misread."""
        worn = [cut.parts for cut in self.cuts] if parts is None else parts
        return np.array(
            [
                _angle(
                    c.level_stops * tone,
                    self.pupil(c, float(depths[g]), extra_mm, growth),
                    _openings(w),
                    c.directions,
                )
                for c, g, w in zip(self.cuts, self.group, worn, strict=True)
            ]
        )

    def scan(self, group: int) -> float:
        """Depth of a group that comes nearest to its cuts."""
        rows = [i for i, g in enumerate(self.group) if g == group]
        mine = _Problem(tuple(self.cuts[i] for i in rows), self.half_diagonal_mm, (0,) * len(rows))
        seen = np.array([c.angle_deg for c in mine.cuts])
        miss = [float(np.sum((mine.predict([d], 0.0) - seen) ** 2)) for d in SCAN_MM]
        best = int(np.argmin(miss))
        if best in (0, len(miss) - 1):
            raise CalibrationRefused(
                f"no depth between {SCAN_MM[0]:.0f} and {SCAN_MM[-1]:.0f} mm puts the cut where the frames "
                "show it; look at the rig declared and its dimensions"
            )
        return float(SCAN_MM[best])

    def solve(self, start: Sequence[float], model_deg: float, *, fixed_drift: bool) -> _Solution:
        """Gauss-Newton with the full covariance; the drift's spread enters as one more observation."""
        depths, extra = np.array(start, dtype=float), 0.0
        seen = np.array([c.angle_deg for c in self.cuts])
        for _ in range(5):
            predicted = self.predict(depths, extra)
            rows = self._jacobian(depths, extra, predicted)
            inverse = np.linalg.inv(self._covariance(depths, extra, predicted, model_deg))
            normal = rows.T @ inverse @ rows
            right = rows.T @ inverse @ (seen - predicted)
            normal[-1, -1] += DRIFT_SPREAD_MM**-2.0
            right[-1] -= extra * DRIFT_SPREAD_MM**-2.0
            if fixed_drift:
                normal, right = normal[:-1, :-1], right[:-1]
            step = np.clip(np.linalg.solve(normal, right), -10.0, 10.0)
            depths = depths + step[: len(depths)]
            extra += 0.0 if fixed_drift else float(step[-1])
            if np.max(np.abs(step)) < 1e-3:
                break
        err = np.sqrt(np.diag(np.linalg.inv(normal)))
        miss = seen - predicted
        free = max(1, len(seen) - len(depths))
        return _Solution(depths, extra, err, predicted, float(np.sqrt(miss @ inverse @ miss / free)))

    def _jacobian(self, depths: Floats, extra: float, at: Floats) -> Floats:
        """Degrees per mm of each depth and of the drift, (cuts, groups + 1)."""
        step = 0.2
        deeper = (self.predict(depths + step, extra) - at) / step
        drifted = (self.predict(depths, extra + step) - at) / step
        columns = [np.where(np.array(self.group) == g, deeper, 0.0) for g in range(len(depths))]
        return np.stack([*columns, drifted], axis=1)

    def _covariance(self, depths: Floats, extra: float, at: Floats, model_deg: float) -> Floats:
        """Of measuring, the model and each piece's dimensions, degrees squared."""
        group, angle = np.array(self.group), np.array([c.angle_deg for c in self.cuts])
        near = np.exp(-0.5 * ((angle[:, None] - angle) / SAME_RADIUS_DEG) ** 2)
        total = model_deg**2 * near * (group[:, None] == group)
        err, names = np.array([c.err_deg for c in self.cuts]), np.array([c.name for c in self.cuts])
        total += np.outer(err, err) * np.where(names[:, None] == names, SAME_FRAME, 0.0)
        total += np.diag((1 - SAME_FRAME) * err**2)
        tone = (self.predict(depths, extra, tone=1.1) - at) / 0.1 * TONE_ERR
        growth = self.predict(depths, extra, growth=GROWTH_ERR) - at
        total += np.outer(tone, tone) + np.outer(growth, growth)
        pieces = {part.name: part for cut in self.cuts for part in cut.parts}
        step = 0.3
        for name, piece in pieces.items():
            for err_mm, moved in ((piece.bore_err_mm, Part.wider), (piece.height_err_mm, Part.higher)):
                parts = [tuple(moved(p, step) if p.name == name else p for p in c.parts) for c in self.cuts]
                slope = (self.predict(depths, extra, parts) - at) / step * err_mm
                total += np.outer(slope, slope)
        return total


def _openings(parts: Sequence[Part]) -> tuple[Opening, ...]:
    """The openings of parts."""
    return tuple(part.opening for part in parts)


def _angle(
    level: float, pupil: Pupil, openings: tuple[Opening, ...], directions: tuple[tuple[float, float], ...]
) -> float:
    """Mean angle over the corners; behind centred circles they are all alike."""
    if all(isinstance(o, Circle) and o.x_mm == o.y_mm == 0 for o in openings):
        directions = directions[:1]
    return float(np.mean([_one_angle(level, pupil, openings, d) for d in directions]))


@lru_cache(maxsize=4096)
def _one_angle(
    level: float, pupil: Pupil, openings: tuple[Opening, ...], direction: tuple[float, float]
) -> float:
    """`field_angle_at_loss`, each answer kept."""
    return field_angle_at_loss(level, pupil, openings, direction)


def onset_deg(cut: Cut, depth_mm: float, drift_mm: float | None, half_diagonal_mm: float) -> float:
    """Angle at which a frame of a rig would lose the level, for checking frames without a cut.

    Parameters
    ----------
    cut : the frame; its own angle does not count [-]
    depth_mm : of the pupil on the axis [mm]
    drift_mm : None for the default one [mm]
    half_diagonal_mm : of the picture [mm]

    Returns
    -------
    mean angle over its corners; 90 where the loss is never reached [deg]

    Source
    ------
    That of `field_angle_at_loss`.
    """
    pupil = default_pupil(cut.focal_length_mm, cut.f_number, depth_mm, half_diagonal_mm=half_diagonal_mm)
    pupil = pupil if drift_mm is None else replace(pupil, drift_mm=drift_mm)
    return _angle(cut.level_stops, pupil, _openings(cut.parts), cut.directions)
