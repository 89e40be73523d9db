"""Distortion of a lens: from the height of a picture point to the tangent of its field angle, and back.

A height r_d measured in the picture belongs to the height r_u that a lens without distortion would give.
Models of the open lens data (lensfun manual, "lfDistortionModel"; a published formula each):
poly3 r_d = r_u (1 - k1 + k1 r_u^2), poly5 r_d = r_u (1 + k1 r_u^2 + k2 r_u^4), ptlens
r_d = r_u (a r_u^3 + b r_u^2 + c r_u + 1 - a - b - c). Unit of both: half the short side of the sensor that
the lens was measured with, so a camera with a smaller sensor needs no other coefficients, only millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.polynomial import polynomial
from numpy.typing import ArrayLike

from audit.optics.arrays import Floats

STEEPEST = 0.05
"""Where a height gains less than this share of what it gains on the axis, the data have left the lens."""

NOTHING = 1e-12
"""A term smaller than this share of the linear one bends nothing that a number could hold."""


@dataclass(frozen=True)
class Distortion:
    """Height in the picture = unit * sum of terms[k - 1] (rectilinear height / unit)^k, up to `reach_mm`.

    Beyond the reach of the data, or where the polynomial turns back, the relative shift stays what it is
    there. ValueError for what is no picture of anything: a linear term, unit or reach that is not above 0.

    Attributes
    ----------
    terms : coefficients from the linear one on [1]
        `terms[0]` is the scale on the axis: tangents are counted from the focal length there.
    unit_mm : height that counts as 1 [mm]
    reach_mm : largest height in the picture that the data describe [mm]
    """

    terms: tuple[float, ...]
    unit_mm: float
    reach_mm: float

    def __post_init__(self) -> None:
        """Refuses what is no picture of anything: nothing on the axis, or no size."""
        if not (self.terms and self.terms[0] > 0 and self.unit_mm > 0 and self.reach_mm > 0):
            raise ValueError("a distortion needs a positive linear term, unit and reach")

    @classmethod
    def from_model(
        cls, model: str, coefficients: tuple[float, ...], unit_mm: float, reach_mm: float
    ) -> Distortion:
        """From a model of the open lens data; the formulae stand at the top of this module.

        Parameters
        ----------
        model : "ptlens", "poly3" or "poly5" [-]
        coefficients : a, b, c of ptlens; k1 of poly3; k1, k2 of poly5 [1]
        unit_mm : half the short side of the sensor that the lens was measured with [mm]
        reach_mm : largest height in the picture that was measured [mm]

        Returns
        -------
        the distortion [-]

        Raises
        ------
        ValueError
            For a name without a formula here, and as the class does.

        Source
        ------
        lensfun manual, "lfDistortionModel".
        """
        if model == "ptlens":
            a, b, c = coefficients[:3]
            terms: tuple[float, ...] = (1 - a - b - c, c, b, a)
        elif model == "poly3":
            terms = (1 - coefficients[0], 0.0, coefficients[0])
        elif model == "poly5":
            k1, k2 = coefficients[:2]
            terms = (1.0, 0.0, k1, 0.0, k2)
        else:
            raise ValueError(f'the distortion model "{model}" has no formula here')
        return cls(terms, unit_mm, reach_mm)

    @classmethod
    def from_percent(cls, percent: float, half_diagonal_mm: float) -> Distortion:
        """From the shift of the corner alone.

        The shift grows with the square of the height (third-order distortion).

        Parameters
        ----------
        percent : of the corner's rectilinear height, barrel negative [%]
        half_diagonal_mm : height of the corner in the picture [mm]

        Returns
        -------
        the distortion [-]

        Raises
        ------
        ValueError
            At -30 % and below, where the corner would turn back, and as the class does.

        Source
        ------
        Third-order distortion: every textbook of optics.
        """
        shift = percent / 100
        if shift <= -0.3:
            raise ValueError(f"a distortion of {percent:g} % turns the corner back; give more than -30")
        return cls((1.0, 0.0, shift), half_diagonal_mm / (1 + shift), half_diagonal_mm)

    def tangent(self, height_mm: ArrayLike, focal_length_mm: float) -> Floats:
        """Tangent of the field angle of picture heights; height / focal length near the axis.

        Parameters
        ----------
        height_mm : distance from the axis in the picture, any shape; negative on the other side [mm]
            NaN gives NaN.
        focal_length_mm : on the axis [mm]

        Returns
        -------
        tangents, of the shape of `height_mm` [1]

        Source
        ------
        That of the model it was made from; undone by Newton's method.
        """
        height = np.asarray(height_mm, dtype=float)
        return np.asarray(self._rectilinear(height) * (self.terms[0] / focal_length_mm))

    def height(self, tangent: ArrayLike, focal_length_mm: float) -> Floats:
        """Picture height of tangents of field angles: what `tangent` undoes.

        Parameters
        ----------
        tangent : any shape; negative on the other side [1]
            NaN gives NaN.
        focal_length_mm : on the axis [mm]

        Returns
        -------
        distances from the axis in the picture, of the shape of `tangent` [mm]

        Source
        ------
        That of the model it was made from.
        """
        ideal = np.asarray(tangent, dtype=float) * (focal_length_mm / self.terms[0])
        end = self._end * self.unit_mm
        inside = np.clip(np.abs(ideal), 0.0, end)
        ratio = np.divide(np.abs(ideal), inside, out=np.ones_like(ideal), where=inside > 0)
        return np.asarray(np.sign(ideal) * self._bent(inside / self.unit_mm) * self.unit_mm * ratio)

    @cached_property
    def _end(self) -> float:
        """Largest rectilinear height, in units, that the polynomial describes."""
        steepness = np.array([k * term for k, term in enumerate(self.terms, start=1)])
        steepness[0] -= STEEPEST * self.terms[0]
        steepness[np.abs(steepness) < NOTHING * self.terms[0]] = 0.0
        roots = np.atleast_1d(polynomial.polyroots(np.trim_zeros(steepness, "b")))
        turns = roots.real[(np.abs(roots.imag) < 1e-9) & (roots.real > 0)]
        top = float(turns.min()) if turns.size else np.inf
        reach = self.reach_mm / self.unit_mm
        if np.isfinite(top) and float(self._bent(np.array(top))) <= reach:
            return top
        return float(self._undo(np.array([reach]), min(top, 10 * reach / self.terms[0]))[0])

    def _bent(self, ideal: Floats) -> Floats:
        """Picture heights of rectilinear ones, both in units."""
        return np.asarray(polynomial.polyval(ideal, (0.0, *self.terms)))

    def _rectilinear(self, height_mm: Floats) -> Floats:
        """Rectilinear heights of picture heights, both in mm."""
        end = self._end
        last = float(self._bent(np.array(end)))
        height = np.abs(height_mm) / self.unit_mm
        inside = np.minimum(height, last)
        ratio = np.divide(height, inside, out=np.ones_like(height), where=inside > 0)
        return np.asarray(np.sign(height_mm) * self._undo(inside, end) * self.unit_mm * ratio)

    def _undo(self, height: Floats, end: float) -> Floats:
        """Newton's method, kept between bounds that close in, on the rising part 0..end."""
        slope = polynomial.polyder((0.0, *self.terms))
        low, high = np.zeros_like(height), np.full_like(height, end)
        ideal = np.clip(height / self.terms[0], 0.0, end)
        for _ in range(60):
            miss = self._bent(ideal) - height
            low, high = np.where(miss <= 0, ideal, low), np.where(miss >= 0, ideal, high)
            step = ideal - miss / polynomial.polyval(ideal, slope)
            better = np.where((step >= low) & (step <= high), step, (low + high) / 2)
            moved = float(np.max(np.abs(better - ideal), initial=0.0))
            ideal = better
            if moved < 1e-13 * end:
                break
        return ideal
