"""What is expected of metering, light and photographers from frame to frame, before a trip is seen.

Every number here is an assumption (common practice, no source). Those of the spreads and paces were chosen on
the tuning half of benchmarks/world and on trips 20,000 to 20,039 of tests/exposure.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from audit.exposure.daylight import STEP_STOPS, normal
from audit.exposure.observations import Declared
from audit.exposure.states import States, is_neutral
from audit.kit.kit import Filter, Kit, ScrewIn
from audit.optics.arrays import Floats

FINE_STOPS = 0.05
REACH = 1400
"""The likelihood's table reaches REACH x FINE_STOPS to each side."""

# (share, standard deviation in stops) of what is read against light less filters, by how it was read.
SPREADS = {
    "metered": ((0.80, 0.32), (0.16, 0.8), (0.04, 3.0)),
    "manual": ((0.67, 0.48), (0.27, 1.2), (0.06, 3.5)),
    "rendered": ((0.80, 0.55), (0.17, 1.2), (0.03, 3.0)),
}
KINDS = 1 + len(SPREADS)
"""Kinds of reading: none and those."""
AS_SET = 0.55
"""Power of the exposure as it was set, beside the picture's brightness: the two err together in part."""
LEAST_LIKELY = 1e-7
"""No reading is less likely than this: anything may have been done to one frame."""
RESTART_VAR = 0.35**2
"""Strengths off their labels, and the meter's other view of the darker scene, at a change of filters."""
DECLARED_WRONG = 0.0005
"""Share of declared frames that wore something else (a border set late)."""
PACES = ((1.0, 0.5), (0.1, 0.35))
"""How often filters change in a run, relative to `change_chance`, and the odds of such a run: some
photographers change all the time, some set out with one filter, or none, and come home with it."""
RENEW_SETUP, RENEW_MIN = 0.2, 180.0
"""Chance that a new composition, and the minutes in which the light, come back to what the sky gives."""
HELD_MIN = 5.0
"""So long the light of a composition is the light just before, whatever clouds do to it."""


def likelihood_table(extra_ranges: tuple[tuple[float, float, float], ...]) -> NDArray[np.float32]:
    """(8 kinds x 2 x width) likelihood of a residual, without and with an extra; kind 0 says nothing.

    From `KINDS` on the same again, to the power `AS_SET`.
    """
    residual: Floats = np.linspace(-REACH, REACH, 2 * REACH + 1) * FINE_STOPS
    rows: list[Floats] = [np.ones(len(residual))] * 2
    for parts in SPREADS.values():
        plain: Floats = np.zeros(len(residual))
        for share, sd in parts:
            plain = plain + share * normal(residual, float(np.hypot(sd, STEP_STOPS / np.sqrt(12))))
        rows += [plain, _with_extra(plain, extra_ranges)]
    table = np.maximum(np.concatenate(rows), LEAST_LIKELY)
    return np.concatenate([table, table**AS_SET]).astype(np.float32)


def light_step(
    between_s: Floats, new_setup: NDArray[np.bool_], sky_known: NDArray[np.bool_]
) -> tuple[Floats, Floats, Floats]:
    """Variance of the light's walk, chance of a jump and its size, from the time and composition between."""
    minutes = np.minimum(between_s / 60, 60.0)
    slope = np.where(sky_known, 0.04, 0.1)
    variance = 0.004 + 0.06 * minutes + np.minimum(slope * minutes, 2.0) ** 2 + new_setup * 0.8
    jump = 0.004 + 0.12 * (1 - np.exp(-minutes / 6)) + new_setup * 0.35
    return variance, jump, np.where(new_setup, 1.7, 1.2)


def renewal(between_s: Floats, new_setup: NDArray[np.bool_]) -> Floats:
    """Chance that the light before says nothing of the light now: it is what sky or clock lead to expect."""
    minutes = np.maximum(between_s / 60 - HELD_MIN, 0.0)
    return np.asarray(1 - (1 - RENEW_SETUP * new_setup) * np.exp(-minutes / RENEW_MIN), dtype=float)


def change_chance(gap_s: Floats, new_setup: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Chance that the filters changed in a pause, and the share of such changes that was hasty."""
    late = np.maximum(gap_s - 4.0, 0.0)
    chance = 2e-5 + 0.22 * (1 - np.exp(-late / 40)) + 0.2 * (1 - np.exp(-late / 900))
    chance = np.where(new_setup, np.maximum(chance, 0.62 * (1 - np.exp(-late / 20))), chance)
    return chance, np.exp(-gap_s / 45)


def declared_weights(states: States, kit: Kit, declarations: tuple[Declared, ...]) -> Floats:
    """(D + 1, C) weight of each class by what was declared; the last row is for frames without."""
    items: dict[str, Filter | ScrewIn] = {f.id: f for f in kit.filters}
    items |= {f.id: f for f in kit.screw_ins}
    out = np.ones((len(declarations) + 1, len(states.classes)))
    for row, ids in enumerate(declarations):
        if ids is None:
            out[row] = np.where(states.stops == 0, 1.0, DECLARED_WRONG)
            continue
        known = [items[i] for i in ids if i in items]
        neutrals = tuple(sorted(x.id for x in known if is_neutral(x)))
        extra = any(x.id in states.extras for x in known)
        fits = np.array([neutrals in c.members and c.extra == extra for c in states.classes])
        if fits.any():
            out[row] = np.where(fits, 1.0, DECLARED_WRONG)
    return out


def _with_extra(row: Floats, ranges: tuple[tuple[float, float, float], ...]) -> Floats:
    """The row where the light has passed an extra as well: its residual is larger by the extra's loss."""
    out = np.zeros_like(row)
    for low, high, share in ranges:
        loss = np.arange(round(low / FINE_STOPS), round(high / FINE_STOPS) + 1)
        kernel = np.bincount(loss, minlength=1) / len(loss)
        out += share * np.convolve(row, kernel)[: len(row)]
    total = sum(share for _, _, share in ranges)
    return out / total if total else row
