"""What a log-ratio map of two pictures would be without a cut, learnt from its inner field."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from audit.measure.witness.regions import Regions
from audit.optics.arrays import Floats

Mask = NDArray[np.bool_]

MOST_FITTED = 12_000
"""Pixels that the surface is fitted to, spread evenly: more would only take longer."""
LEAST_FITTED = 500
ROUNDS = 6
TOLERANCE = 2.5
SHARP_STOPS = 0.02
"""Spread that the weights allow for at least: codes are whole numbers."""


def expected(light: Floats, ratio: Floats, known: Mask, regions: Regions) -> Floats | None:
    """The ratio everywhere as the inner field lets expect it; None where too little of that is known.

    `light` of the bare frame (no NaN) and `ratio`, bare over worn, in stops; `known` where both are sound.
    Terms: plane and square of the image height (light that drifts; a dense filter takes more of slanting
    light), tone (a curve not quite right, a sky that brightened), slope (a shift of part of a pixel).
    """
    inside = np.flatnonzero(known & regions.inner)
    if len(inside) < LEAST_FITTED:
        return None
    some = inside[:: max(1, len(inside) // MOST_FITTED)]
    wanted = ratio.ravel()[some]
    level = float(np.median(wanted))
    place = _place_terms(light, regions)
    # The tone half way between the two, so that what moved leans to neither picture.
    tone = light.ravel()[some] - wanted / 2
    ends = np.quantile(tone, (0.01, 0.99))
    rows = np.concatenate([place[some], _tone_terms(tone, ends)], axis=1)
    found = _robust(rows, wanted)
    everywhere = np.concatenate([place, _tone_terms(light.ravel() - level / 2, ends)], axis=1)
    return np.asarray((everywhere @ found).reshape(ratio.shape))


def _place_terms(light: Floats, regions: Regions) -> Floats:
    x, y = regions.x, regions.y
    down, right = np.gradient(light)
    return np.stack([np.ones_like(x), x, y, x * x + y * y, down, right], axis=-1).reshape(light.size, -1)


def _tone_terms(tone: Floats, ends: Floats) -> Floats:
    """Line and square over the tones that the inner field has; beyond them it goes on level."""
    scaled = (np.clip(tone, *ends) - ends.mean()) / max(1.0, float(ends[1] - ends[0]) / 2)
    return np.stack([scaled, scaled**2], axis=-1)


def _robust(rows: Floats, wanted: Floats) -> Floats:
    """Least squares, what does not follow weighted down (Cauchy)."""
    weight, found = np.ones(len(wanted)), np.zeros(rows.shape[1])
    for _ in range(ROUNDS):
        weighted = rows * weight[:, None]
        found = np.asarray(np.linalg.lstsq(weighted.T @ rows, weighted.T @ wanted, rcond=None)[0])
        miss = np.abs(wanted - rows @ found)
        spread = max(SHARP_STOPS, 1.4826 * float(np.median(miss)))
        weight = 1 / (1 + (miss / (TOLERANCE * spread)) ** 2)
    return found
