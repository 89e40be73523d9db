"""How far one body's clock is ahead of another's, from what both did and saw.

Receivers of both tell it to seconds. Else every shift is tried: one photographer who carries two bodies uses
both at the same places, so the frames of one lie where the other was busy; and both saw the same light. How
likely each shift is is held against that of no shift, and against bodies that went their own ways.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.optics.arrays import Floats

STEP_S, FURTHEST_S = 15.0, 14 * 3600.0
LEAST_FIXES = 3
FIX_ERR_S = 4.0
"""A fix is a second or two old, stamps are whole seconds: common practice, no source."""
BURST_S, SESSION_S = 300.0, 2700.0
"""A pause as long begins another burst, another session. Chosen on the tune half of benchmarks.world.clocks,
as all numbers down to LIGHT_WEIGHT."""
NEAR_S, FINE_S, COARSE_S = 30.0, 45.0, 1800.0
TOGETHER, SAME_SESSION = 0.75, 0.8
LIGHT_ERR, LIGHT_TRUE, LIGHT_REACH_S, LIGHT_WEIGHT = 1.3, 0.8, 900.0, 0.7
MEETING_S, LEAST_MET, OFTEN_MET = 60.0, 0.6, 0.85
"""Of the frames so many lie within a minute of the other body's, or the bodies were used apart; often."""
MANNER_S, IN_TURN_S = 60.0, 150.0
"""How much later than the other a body is taken up where they meet often, and where they go in turn: no clock
tells that. Chosen on the same half, where some photographers use two bodies in turn."""
PRIOR_AGREE, PRIOR_ZONE, PRIOR_ANY, PRIOR_ALONE = 0.45, 0.15, 0.15, 0.25
"""Before a look: the clocks agree, differ by half hours, by anything; or nothing can be told of them."""


@dataclass(frozen=True)
class Shots:
    """Frames of one body in order of time: seconds, exposure times, light in stops (NaN: unknown), setups."""

    at_s: Floats
    length_s: Floats
    light: Floats
    setup: NDArray[np.object_]


@dataclass(frozen=True)
class Apart:
    """By how much the first clock is ahead, with its 95 % range, and how likely that range is all in all."""

    ahead_s: float
    err_s: float
    chance: float
    by: str


def by_receivers(first: pd.DataFrame, other: pd.DataFrame) -> Apart | None:
    """From the receivers' time in the frames of both bodies; None where one of them has none."""
    each = [(part["captured_at"] - part["gps_at"]).dt.total_seconds().dropna() for part in (first, other)]
    if min(len(one) for one in each) < LEAST_FIXES:
        return None
    (middle, spread), (other_middle, other_spread) = (
        (float(one.median()), float((one - one.median()).abs().quantile(0.75))) for one in each
    )
    return Apart(middle - other_middle, FIX_ERR_S + float(np.hypot(spread, other_spread)), 1.0, "receivers")


def shifts() -> Floats:
    """The shifts that are tried [s]."""
    count = round(FURTHEST_S / STEP_S)
    return np.arange(-count, count + 1).astype(np.float64) * STEP_S


def by_scenes(first: Shots, other: Shots) -> Apart:
    """From activity and light: the likeliest shift; `chance` is small where little speaks for it alone."""
    tried = shifts()
    evidence = _activity(first, other, tried) + LIGHT_WEIGHT * _light(first, other, tried)
    weight = _prior(tried) * np.exp(np.minimum(evidence, 600.0))
    total = float(weight.sum()) + PRIOR_ALONE
    share = weight / total
    best = int(np.argmax(np.convolve(share, np.ones(9), mode="same")))
    near = np.abs(tried - tried[best]) <= 600
    run = share[near]
    if not run.sum() > 0:  # so much speaks against each shift that its weight is none at all
        return Apart(0.0, FURTHEST_S, 0.0, "scenes")
    middle = float((run * tried[near]).sum() / run.sum())
    below = np.cumsum(run) / run.sum()
    low, high = np.interp([0.02, 0.98], below, tried[near])
    met = _met(first, other, middle)
    err = max(high - middle, middle - low) + STEP_S + (MANNER_S if met >= OFTEN_MET else IN_TURN_S)
    return Apart(middle, float(err), float(run.sum()) if met >= LEAST_MET else 0.0, "scenes")


def _met(first: Shots, other: Shots, ahead_s: float) -> float:
    """Share of the first body's frames that lie beside the other's, once set right by so much."""
    busy = _Busy(other.at_s - MEETING_S, other.at_s + other.length_s + MEETING_S)
    return float((busy.share(first.at_s - ahead_s, 1.0) > 0).mean())


def _prior(tried: Floats) -> Floats:
    size = np.abs(tried)
    agree = np.exp(-0.5 * (tried / 15.0) ** 2)
    from_half_hour = np.abs((tried + 900.0) % 1800.0 - 900.0)
    zone = np.where(size > 900, np.exp(-0.5 * (from_half_hour / 20.0) ** 2), 0.0) * np.exp(-size / 14_400)
    anything = 1.0 / np.maximum(size, 30.0)
    parts = ((agree, PRIOR_AGREE), (zone, PRIOR_ZONE), (anything, PRIOR_ANY))
    return np.asarray(np.sum([share * one / one.sum() for one, share in parts], axis=0), dtype=float)


def _starts(at_s: Floats, pause_s: float) -> NDArray[np.int64]:
    """Where a burst or session begins."""
    return np.flatnonzero(np.diff(at_s, prepend=-np.inf) > pause_s)


def _activity(first: Shots, other: Shots, tried: Floats) -> Floats:
    """Log of how much more likely the first body's bursts are beside the other's than anywhere else.

    Sessions beside sessions count once each, bursts beside frames within their session.
    """
    fine = _Busy(other.at_s - NEAR_S, other.at_s + other.length_s + NEAR_S)
    wide = _Busy(other.at_s - COARSE_S, other.at_s + COARSE_S)

    def bursts_say(bursts: Floats) -> Floats:
        moved = bursts[:, None] - tried
        here, around = fine.share(moved, FINE_S), fine.share(moved, COARSE_S)
        ratio = np.divide(here, around, out=np.ones_like(here), where=around > 0.02)
        return np.asarray(np.log(1 - TOGETHER + TOGETHER * ratio))

    def sessions_say(sessions: Floats) -> Floats:
        moved = sessions[:, None] + 300.0 - tried
        usual = np.maximum(wide.share(sessions[:, None], FURTHEST_S), 0.02)
        ratio = wide.share(moved, 60.0) / usual
        return np.asarray(np.log(1 - SAME_SESSION + SAME_SESSION * ratio))

    bursts, sessions = (first.at_s[_starts(first.at_s, pause_s)] for pause_s in (BURST_S, SESSION_S))
    return _summed(bursts_say, bursts) + _summed(sessions_say, sessions)


AT_ONCE = 64
"""Bursts or setups that are moved through all shifts together, so that a long trip takes no more memory."""


def _summed(say: Callable[..., Floats], *values: Floats) -> Floats:
    """The sum, by shift, of what some values say, a few at a time."""
    total = np.zeros((1, round(2 * FURTHEST_S / STEP_S) + 1))
    for at in range(0, len(values[0]), AT_ONCE):
        said = say(*(some[at : at + AT_ONCE] for some in values))
        total = np.concatenate([total, said]).sum(axis=0, keepdims=True)
    return total[0]


class _Busy:
    """The union of stretches of time, asked for the share of a window that lies within it."""

    def __init__(self, start: Floats, end: Floats) -> None:
        end = np.maximum.accumulate(end)
        new = np.append(True, start[1:] > end[:-1])
        starts, ends = start[new], end[np.append(np.flatnonzero(new)[1:] - 1, len(end) - 1)]
        self.at = np.stack([starts, ends], axis=1).ravel()
        before = np.append(0.0, np.cumsum(ends - starts))
        self.sum = np.stack([before[:-1], before[1:]], axis=1).ravel()

    def share(self, middle: Floats, half_s: float) -> Floats:
        """Of a window about each middle."""
        upto, since = (np.interp(middle + side * half_s, self.at, self.sum) for side in (1, -1))
        return np.asarray((upto - since) / (2 * half_s))


def _light(first: Shots, other: Shots, tried: Floats) -> Floats:
    """Log of how much more likely the first body's light is beside the other's then than anywhere."""
    at, light = _by_setup(first)
    other_at, other_light = _by_setup(other)
    if not len(at) or not len(other_at):
        return np.zeros(len(tried))
    every = np.concatenate([light, other_light])
    usual = _normal(light - every.mean(), max(float(every.std()), 1.5))[:, None]

    def say(at: Floats, light: Floats, usual: Floats) -> Floats:
        moved = at[:, None] - tried
        after = np.clip(np.searchsorted(other_at, moved), 1, max(len(other_at) - 1, 1))
        sides = (other_at[after - 1], other_at[np.minimum(after, len(other_at) - 1)])
        near = np.minimum(np.abs(moved - sides[0]), np.abs(moved - sides[1])) <= LIGHT_REACH_S
        off = light[:, None] - np.interp(moved, other_at, other_light)
        ratio = LIGHT_TRUE * _normal(off, LIGHT_ERR) / usual + 1 - LIGHT_TRUE
        return np.where(near, np.log(ratio), 0.0)

    return _summed(say, at, light, usual)


def _normal(off: Floats, err: float) -> Floats:
    return np.asarray(np.exp(-0.5 * (off / err) ** 2) / (err * np.sqrt(2 * np.pi)))


def _by_setup(shots: Shots) -> tuple[Floats, Floats]:
    """Middle and light of each setup: near its brightest frame, as filters only darken."""
    table = pd.DataFrame({"at": shots.at_s, "light": shots.light, "setup": shots.setup}).dropna()
    groups = table.groupby("setup", sort=False)
    at = groups["at"].median().to_numpy(dtype=float)
    light = groups["light"].quantile(0.9).to_numpy(dtype=float)
    order = np.argsort(at, kind="stable")
    return at[order], light[order]
