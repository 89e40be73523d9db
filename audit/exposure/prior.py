"""What is expected of light, metering and photographers before a trip is seen.

Every number here is a wide assumption (common practice, no source), set so that stated certainty holds on
trips whose light, metering and habits are other than these.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from audit.exposure.states import States, is_neutral
from audit.kit.kit import Filter, Kit, ScrewIn
from audit.optics.arrays import Floats

STEP_STOPS = 0.5
LEVELS = np.arange(-14.0, 14.0 + STEP_STOPS / 2, STEP_STOPS)
"""Light levels about `MIDDLE_EV100`, or about the sky's expected light where that is known."""
MIDDLE_EV100 = 5.5
DARKEST_EV100 = -7.0
BRIGHTEST_EV100 = 16.75
"""Sunlit snow."""
FINE_STOPS = 0.05
REACH = 1400
"""The likelihood's table reaches REACH x FINE_STOPS to each side."""

# (share, standard deviation in stops) of what is read against light less filters, by how it was read.
SPREADS = {
    "metered": ((0.72, 0.40), (0.24, 1.0), (0.04, 3.0)),
    "manual": ((0.60, 0.50), (0.30, 1.2), (0.10, 3.5)),
    "rendered": ((0.80, 0.30), (0.17, 0.8), (0.03, 3.0)),
}
LEAST_LIKELY = 1e-7
"""No reading is less likely than this: anything may have been done to one frame."""
RESTART_VAR = 0.3**2
"""Strengths off their labels, and the meter's other view of the darker scene, at a change of filters."""
DECLARED_WRONG = 0.0005
"""Share of declared frames that wore something else (a border set late)."""


def likelihood_table(extra_ranges: tuple[tuple[float, float, float], ...]) -> NDArray[np.float32]:
    """(4 kinds x 2 x width) likelihood of a residual, without and with an extra; kind 0 says nothing."""
    residual: Floats = np.linspace(-REACH, REACH, 2 * REACH + 1) * FINE_STOPS
    rows: list[Floats] = [np.ones(len(residual))] * 2
    for parts in SPREADS.values():
        plain: Floats = np.zeros(len(residual))
        for share, sd in parts:
            plain = plain + share * _normal(residual, float(np.hypot(sd, STEP_STOPS / np.sqrt(12))))
        rows += [plain, _with_extra(plain, extra_ranges)]
    return np.maximum(np.concatenate(rows), LEAST_LIKELY).astype(np.float32)


def light_start(sky_known: NDArray[np.bool_]) -> Floats:
    """(R, G) chance of the first light level: under a sky about what it gives, else nearly flat."""
    ev100 = LEVELS + MIDDLE_EV100
    flat = np.interp(ev100, [DARKEST_EV100 - 0.5, DARKEST_EV100, 4.0, 15.5, 17.5], [0.0, 0.15, 1.0, 1.0, 0.2])
    flat /= flat.sum()
    sky = 0.85 * _normal(LEVELS + 1.0, 2.2) * STEP_STOPS + 0.15 / len(LEVELS)
    return np.where(sky_known[:, None], sky / sky.sum(), flat)


def light_step(
    between_s: Floats, new_setup: NDArray[np.bool_], sky_known: NDArray[np.bool_]
) -> tuple[Floats, Floats, Floats]:
    """Variance of the light's walk, chance of a jump and its size, from the time and composition between."""
    minutes = np.minimum(between_s / 60, 60.0)
    slope = np.where(sky_known, 0.04, 0.1)
    variance = 0.004 + 0.04 * minutes + np.minimum(slope * minutes, 2.0) ** 2 + new_setup * 0.8
    jump = 0.004 + 0.12 * (1 - np.exp(-minutes / 6)) + new_setup * 0.25
    return variance, jump, np.where(new_setup, 1.8, 1.2)


def change_chance(gap_s: Floats, new_setup: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Chance that the filters changed in a pause, and the share of such changes that was hasty."""
    late = np.maximum(gap_s - 4.0, 0.0)
    chance = 2e-5 + 0.22 * (1 - np.exp(-late / 40)) + 0.2 * (1 - np.exp(-late / 900))
    chance = np.where(new_setup, np.maximum(chance, 0.45 * (1 - np.exp(-late / 20))), chance)
    return chance, np.exp(-gap_s / 45)


def time_weights(states: States) -> Floats:
    """(5, C) weight of each class by exposure time: none told, hand-held, short, on a tripod, minutes.

    Minutes speak for strong neutrals, a hand-held time against them. Counted once for a new exposure.
    """
    strong, bare = states.stops >= 5, states.stops < 1
    out = np.ones((5, len(states.stops)))
    out[1] = np.where(strong, 0.1, 1.0)
    out[2] = np.where(strong, 0.6, 1.0)
    out[4] = np.where(strong, 1.0, np.where(bare, 0.12, 0.4))
    return out


def time_class(exposure_s: Floats, in_step: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Row of `time_weights` for each unit."""
    row = 1 + np.digitize(exposure_s, [1 / 40, 1.0, 40.0])
    return np.where(in_step | (exposure_s <= 0), 0, row)


def declared_weights(states: States, kit: Kit, declarations: tuple[tuple[str, ...], ...]) -> Floats:
    """(D + 1, C) weight of each class by what was declared; the last row is for frames without."""
    items: dict[str, Filter | ScrewIn] = {f.id: f for f in kit.filters}
    items |= {f.id: f for f in kit.screw_ins}
    out = np.ones((len(declarations) + 1, len(states.classes)))
    for row, ids in enumerate(declarations):
        known = [items[i] for i in ids if i in items]
        neutrals = tuple(sorted(x.id for x in known if is_neutral(x)))
        extra = any(x.id in states.extras for x in known)
        fits = np.array([neutrals in c.members and c.extra == extra for c in states.classes])
        if fits.any():
            out[row] = np.where(fits, 1.0, DECLARED_WRONG)
    return out


def _normal(x: Floats, sd: float) -> Floats:
    value: Floats = np.exp(-0.5 * (x / sd) ** 2) / (sd * np.sqrt(2 * np.pi))
    return value


def _with_extra(row: Floats, ranges: tuple[tuple[float, float, float], ...]) -> Floats:
    """The row where the light has passed an extra as well: its residual is larger by the extra's loss."""
    out = np.zeros_like(row)
    for low, high, share in ranges:
        loss = np.arange(round(low / FINE_STOPS), round(high / FINE_STOPS) + 1)
        kernel = np.bincount(loss, minlength=1) / len(loss)
        out += share * np.convolve(row, kernel)[: len(row)]
    total = sum(share for _, _, share in ranges)
    return out / total if total else row
