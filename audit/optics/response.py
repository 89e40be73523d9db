"""From the codes of a camera's JPEG back to the light they stand for, in stops.

A camera's tone curve is steeper than sRGB, by 1.1 to 1.6 times; six Legendre coefficients in log light take
most of that back (measured on brackets of real cameras: half a stop apart, 0.03 stop left in the median).
Fitted again on brackets of one camera they take nearly all of it back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import ArrayLike

from audit.optics.arrays import Floats
from audit.optics.colour import srgb_decoded

DARKEST, BRIGHTEST = 8, 247
"""Codes outside are too near black or white to say how much light there was."""

COEFFICIENTS = (-0.4802, 0.7983, -0.2374, 0.1132, 0.1306, -0.0857)
"""Legendre orders 1 to 6 over the code, fitted on brackets of six camera models (after Debevec and Malik)."""

ORDERS = len(COEFFICIENTS)
SPREAD = 0.5
"""How far a camera's coefficient lies from the general one (1 sigma): the range from camera to camera, 1.1 to
1.6 times sRGB, makes about this."""
STEP_ERR_STOPS = 0.03
"""How exactly a camera makes the step between two frames of a bracket (common practice, no source)."""
LEAST_CELLS, LEAST_TONES, LEAST_OF_TONE = 200, 30, 5
ENOUGH_CELLS = 100
"""A tone that many cells have tells as much as one that thousands have."""
NEWS = 0.05
"""Of a tone beside others: what a smooth curve leaves is alike in neighbouring tones."""
MOST_LEFT_STOPS = 0.3
"""What a fit may leave of a step: beyond, the exposures were not as told."""
_ROUNDS = 8
_SHARP_STOPS = 0.02
"""Least spread that the fit allows for: below it are codes rounded to whole numbers."""


@dataclass(frozen=True)
class Curve:
    """A tone curve.

    Attributes
    ----------
    coefficients : of Legendre orders 1 to 6, added to log2 of the sRGB curve [stop]
    residual_stops : what its own brackets leave (root mean square), None for the general one [stop]
    samples : number of pairs of codes it was fitted to [1]
    doubt : why it may be far off for the pictures it stands for, "" where nothing says so [-]
    """

    coefficients: tuple[float, ...]
    residual_stops: float | None = None
    samples: int = 0
    doubt: str = ""

    @property
    def own(self) -> bool:
        """Whether it was fitted on brackets of the camera itself [-]."""
        return self.samples > 0


GENERAL = Curve(COEFFICIENTS)


def light_stops(codes: ArrayLike, curve: Curve = GENERAL) -> Floats:
    """Scene light of the codes of a JPEG; increases with the code.

    log2 of the sRGB curve, plus Legendre orders 1 to 6 over code / 127.5 - 1, which are 0 at the middle code.

    Parameters
    ----------
    codes : whole numbers 0 to 255, any shape; no NaN [1]
    curve : of the camera [-]

    Returns
    -------
    log2 of the light, zero point arbitrary, of the shape of `codes` [stop]
        NaN for codes below DARKEST or above BRIGHTEST.

    Source
    ------
    sRGB: IEC 61966-2-1. Series after Debevec and Malik, "Recovering high dynamic range radiance maps from
    photographs", 1997; general coefficients: own fit on brackets of six camera models.
    """
    return _table(curve.coefficients)[np.asarray(codes, dtype=np.uint8)]


def fit_curve(samples: Sequence[tuple[ArrayLike, ArrayLike, float]]) -> Curve | None:
    """The tone curve of a camera from pairs of codes of the same cells in two exposures.

    Codes too near black or white are left out. Linear least squares on light(a) - light(b) = stops, cells
    that do not follow weighted down (clouds, people), drawn towards the general curve where the samples say
    little.

    Parameters
    ----------
    samples : of each (codes a, codes b, stops by which a got more light); codes as `light_stops` [stop]

    Returns
    -------
    the curve [-]
        None where there are too few samples, where no curve explains them, or where it would not rise with
        every code.

    Source
    ------
    After Debevec and Malik, "Recovering high dynamic range radiance maps from photographs", 1997.
    """
    tones = [_tones(*sample, index) for index, sample in enumerate(samples)]
    table = np.concatenate([np.empty((0, 5)), *tones])
    bright, dark, stops, count, index = table.T
    if len(table) < LEAST_TONES or count.sum() < LEAST_CELLS:
        return None
    rows = np.concatenate([_terms(bright) - _terms(dark), index[:, None] == np.arange(len(samples))], axis=1)
    wanted = stops - (_srgb_stops(bright) - _srgb_stops(dark)) - rows[:, :ORDERS] @ np.array(COEFFICIENTS)
    sigma = np.array([SPREAD] * ORDERS + [STEP_ERR_STOPS] * len(samples))
    away, left = _robust(rows, wanted, NEWS * np.minimum(count, ENOUGH_CELLS) / ENOUGH_CELLS, sigma)
    found = tuple(float(c) for c in np.array(COEFFICIENTS) + away[:ORDERS])
    if left > MOST_LEFT_STOPS:
        return None
    curve = Curve(found, left, int(count.sum()))
    rises = np.diff(light_stops(np.arange(DARKEST, BRIGHTEST + 1), curve)) > 0
    return curve if rises.all() else None


def _tones(codes_a: ArrayLike, codes_b: ArrayLike, stops: float, index: int) -> Floats:
    """For each code of the brighter exposure the middle code of the darker one.

    Rows of (bright code, dark code, stops, cells, index of the sample); tones of few cells, and those that
    are partly too dark or too bright, are left out.
    """
    a, b = (np.asarray(codes, dtype=np.intp).ravel() for codes in (codes_a, codes_b))
    bright, dark = (a, b) if stops >= 0 else (b, a)
    table = np.bincount(256 * bright + dark, minlength=256 * 256).reshape(256, 256)
    count, below = table.sum(axis=1), np.cumsum(table, axis=1)
    low, high = (np.argmax(below >= share * count[:, None], axis=1) for share in (0.25, 0.75))
    code = np.arange(256)
    half = table * ((code >= low[:, None]) & (code <= high[:, None]))
    middle = half @ code / np.maximum(half.sum(axis=1), 1)
    good = (count >= LEAST_OF_TONE) & (low >= DARKEST) & (high <= BRIGHTEST)
    good &= (code >= DARKEST) & (code <= BRIGHTEST)
    same = np.ones(int(good.sum()))
    return np.stack([code[good], middle[good], abs(stops) * same, count[good], index * same], axis=1)


def _robust(rows: Floats, wanted: Floats, trust: Floats, sigma: Floats) -> tuple[Floats, float]:
    """Least squares, drawn towards zero by `sigma` and reweighted; the solution and what it leaves."""
    weight, spread = trust, 0.1
    solution, miss = np.zeros(len(sigma)), np.abs(wanted)
    for _ in range(_ROUNDS):
        normal = (rows * weight[:, None]).T @ rows + np.diag((spread / sigma) ** 2)
        solution = np.asarray(np.linalg.solve(normal, rows.T @ (weight * wanted)))
        miss = np.abs(wanted - rows @ solution)
        spread = max(_SHARP_STOPS, 1.4826 * float(np.median(miss)))
        weight = trust / (1 + (miss / (3 * spread)) ** 2) ** 2
    return solution, float(np.sqrt(np.average(miss**2, weights=weight)))


def _srgb_stops(codes: Floats) -> Floats:
    """sRGB (IEC 61966-2-1) in log2."""
    z = codes / 255.0
    linear = srgb_decoded(z)
    return np.log2(np.maximum(linear, 1e-12))


def _terms(codes: Floats) -> Floats:
    """Legendre orders 1 to 6 of each code, (codes, 6), zero at the middle code."""
    at_zero = legendre.legvander(np.zeros(1), ORDERS)
    return np.asarray((legendre.legvander(2 * codes / 255 - 1, ORDERS) - at_zero)[:, 1:])


@lru_cache(maxsize=64)
def _table(coefficients: tuple[float, ...]) -> Floats:
    """Light of all 256 codes."""
    codes = np.arange(256.0)
    valid = (codes >= DARKEST) & (codes <= BRIGHTEST)
    return np.where(valid, _srgb_stops(codes) + _terms(codes) @ np.array(coefficients), np.nan)
