"""Which class of filters was worn, frame by frame: a hidden state seen through the exposures.

The state of a frame is a light level on a grid and a class of worn filters. From frame to frame the light
diffuses (a walk whose variance and jumps the caller gives) and the class may change; the frame is then seen
with a likelihood that depends on the level less the class' stops. Every light kernel is even and reflected
at the ends, so that all of them are diagonal in one cosine basis: a step is two products with that basis and
one with the class changes, whatever the time between the frames. Its cost does not grow with the time gap,
and the whole cost is linear in the frames. Runs of frames are independent and go through side by side.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audit.optics.arrays import Floats

Singles = NDArray[np.float32]
Wholes = NDArray[np.int32]

KEEP = 256
"""States kept at once on the way back; the rest are computed again from every KEEP-th one."""
TINY = np.float32(1e-30)
LEAST = np.float32(1e-18)
"""No state is held less likely, nor a factor below NOUGHT more than none: tinier numbers slow a processor."""
NOUGHT = 1e-8
BESIDE_WRONG = np.float32(0.02)
"""Likelihood that is left, of 1, where another witness saw quite another level."""


@dataclass(frozen=True)
class Chain:
    """What is alike in all runs. G light levels, C classes.

    Attributes
    ----------
    levels : light levels, evenly spaced upwards, (G,) [stop]
    quick : chance of the class after a hasty change, (C, C), rows sum to 1 [1]
    slow : the same after an unhurried change, (C, C), rows sum to 1 [1]
    start : chance of each class before anything is seen, (C,) [1]
    restart_var : how far a change of class moves the level seen for good: strengths lie off labels [stop^2]
    """

    levels: Floats
    quick: Floats
    slow: Floats
    start: Floats
    restart_var: float


@dataclass(frozen=True)
class Runs:
    """R runs of up to T frames, the shorter ones first; what stands behind the end of one is not looked at.

    Likelihood of a frame: `table[place + cell]` x `table[second + cell]` x `class_weight` x (level below
    `ceiling`, softened over a step of the levels) x (level about `beside`). No NaN anywhere.

    Attributes
    ----------
    length : frames of each run, growing, (R,) [1]
    table : likelihoods, flat [1]
    place : of each frame in `table`, (R, T) [1]
    second : the same for another reading of the frame, (R, T) [1]
    cell : added to it for each level and class, (G, C) [1]
    class_weight : likelihood of each class by itself, (R, T, C) [1]
    ceiling : no level lies above it, (R, T) [stop]
    beside : level that another witness saw, (R, T) [stop]
    beside_sd : how far it may be off; 0 where there is no witness, (R, T) [stop]
    walk_var : of the light's walk into the frame, (R, T), first column not used [stop^2]
    jump : chance that the light jumps into the frame, (R, T), first column not used [1]
    jump_stops : size of the jump, a double exponential, (R, T), first column not used [stop]
    change : chance of another class, (R, T), first column not used [1]
    hasty : share of the changes that go by `quick`, (R, T), first column not used [1]
    fresh : chance of each level where nothing is known of the light before, K rows, (K, G) [1]
    fresh_row : which of them a frame has, (R, T) [1]
    renew : chance that the level is drawn anew by `fresh`, (R, T), first column not used [1]
    """

    length: Wholes
    table: Singles
    place: Wholes
    second: Wholes
    cell: Wholes
    class_weight: Singles
    ceiling: Singles
    beside: Singles
    beside_sd: Singles
    walk_var: Singles
    jump: Singles
    jump_stops: Singles
    change: Singles
    hasty: Singles
    fresh: Singles
    fresh_row: Wholes
    renew: Singles


@dataclass(frozen=True)
class Posterior:
    """What is known given all frames.

    Attributes
    ----------
    classes : chance of each class, (R, T, C) [1]
    level : mean light level, (R, T) [stop]
    log_likelihood : natural logarithm of the likelihood of the run, (R,) [1]
    """

    classes: Singles
    level: Singles
    log_likelihood: Floats


def forward_backward(chain: Chain, runs: Runs, paces: Sequence[float] = (1.0,)) -> list[Posterior]:
    """Chance of each class in each frame, given all frames of its run.

    Parameters
    ----------
    chain : what is alike in all runs [-]
    runs : the frames; no NaN [-]
    paces : each time the chance of a change is multiplied by one of these [1]

    Returns
    -------
    chances, levels and likelihoods for each pace [-]

    Source
    ------
    Own derivation: sums over all paths, forwards and backwards; beside sums over every path one by one.
    """
    seen = _Seen(chain, runs)
    return [_posterior(_Walk(chain, runs, seen, np.float32(pace))) for pace in paces]


def _posterior(walk: _Walk) -> Posterior:
    count, length = walk.runs.place.shape
    ended = walk.seen.ended
    classes = np.zeros((count, length, len(walk.chain.start)), dtype=np.float32)
    level = np.zeros((count, length), dtype=np.float32)

    def step(state: Singles, t: int) -> Singles:
        moved = walk.moved(state[ended[t] - ended[t - 1] :], t)
        return _scaled(np.multiply(moved, walk.seen(t), out=moved))[0]

    first, logs = _scaled(walk.fresh[:, 0] * walk.chain.start.astype(np.float32) * walk.seen(0))
    after = first[:0]
    for t, state in _backwards(first, step, length):
        after = np.concatenate([np.ones_like(state[: len(state) - len(after)]), after])
        both = state * after
        by_class = both.sum(axis=1)
        total = np.maximum(by_class.sum(axis=1, keepdims=True), TINY)
        classes[ended[t] :, t] = by_class / total
        level[ended[t] :, t] = (both.sum(axis=2) * walk.seen.levels).sum(axis=1) / total[:, 0]
        if t:
            after *= walk.seen(t)
            after, scale = _scaled(walk.moved_back(np.maximum(after, LEAST, out=after), t))
            logs[ended[t] :] += scale
    return Posterior(classes, level, logs + _rest(first, after))


class _Seen:
    """Likelihoods (R, G, C) of each frame; kept, since frames are gone through more than once.

    Of runs that have `ended` (their number at each frame) there is nothing any more.
    """

    def __init__(self, chain: Chain, runs: Runs) -> None:
        self._runs = runs
        self.ended = np.searchsorted(runs.length, np.arange(runs.place.shape[1]), side="right")
        self.levels = chain.levels.astype(np.float32)
        self.step_stops = float(chain.levels[1] - chain.levels[0])
        self._by_level = self._of_levels()[..., None]
        self._readings, self._reading = _readings(runs)
        self._kept: dict[int, Singles] = {}

    def __call__(self, t: int) -> Singles:
        """Likelihood of frame t."""
        if t not in self._kept:
            if len(self._kept) > KEEP:
                self._kept.clear()
            left = slice(self.ended[t], None)
            like = self._readings[self._reading[left, t]]
            like *= self._by_level[left, t]
            like *= self._runs.class_weight[left, None, t]
            self._kept[t] = like
        return self._kept[t]

    def _of_levels(self) -> Singles:
        """(R, T, G) what ceiling and other witnesses say of each level."""
        runs = self._runs
        above = np.clip((self.levels - runs.ceiling[..., None]) / self.step_stops, -4, 4)
        level = 1 / (1 + np.exp(4 * above))
        sd = runs.beside_sd[..., None]
        off = (self.levels - runs.beside[..., None]) / np.maximum(sd, 0.1)
        level *= np.where(sd > 0, BESIDE_WRONG + np.exp(-0.5 * off**2), 1)
        return level


def _readings(runs: Runs) -> tuple[Singles, Wholes]:
    """Likelihoods (K, G, C) of the readings that differ, and which of them each frame has (R, T)."""
    both = np.stack([runs.place.ravel(), runs.second.ravel()])
    (place, second), number = np.unique(both, axis=1, return_inverse=True)
    likely = runs.table[place[:, None, None] + runs.cell]
    likely *= runs.table[second[:, None, None] + runs.cell]
    return likely, number.reshape(runs.place.shape).astype(np.int32)


class _Walk:
    """The steps of all runs, with states of shape (R, G, C), at one pace of changes."""

    def __init__(self, chain: Chain, runs: Runs, seen: _Seen, pace: np.float32) -> None:
        size = len(chain.levels)
        row = np.arange(size)
        wave = np.cos(np.pi * row[:, None] * (row[None, :] + 0.5) / size) * np.sqrt(2 / size)
        wave[0] /= np.sqrt(2)
        self.runs, self.chain, self.seen = runs, chain, seen
        self.wave = wave.astype(np.float32)
        # Frequency response of the grid's second difference: exp and 1/(1 + .) of it are chances, never < 0.
        rough = ((1 - np.cos(np.pi * row / size)) / seen.step_stops**2).astype(np.float32)
        self.to = _clear(chain.quick), _clear(chain.slow)
        self.back = _clear(chain.quick.T), _clear(chain.slow.T)
        self.renew = runs.renew[..., None, None]
        self.fresh = runs.fresh[runs.fresh_row][..., None]
        # What becomes of each frequency where the class stays, changes by `quick`, by `slow`: (R, T, G, 1).
        change, hasty = (runs.change * pace)[..., None, None], runs.hasty[..., None, None]
        jump = runs.jump[..., None]
        kernel = np.exp(-runs.walk_var[..., None] * rough) * (1 - jump)
        kernel += jump / (1 + 2 * runs.jump_stops[..., None] ** 2 * rough)
        kernel = _clear(kernel)[..., None]
        restart = kernel * _clear(np.exp(-chain.restart_var * rough))[:, None] * change
        self.stay, self.quick, self.slow = kernel * (1 - change), restart * hasty, restart * (1 - hasty)

    def moved(self, state: Singles, t: int) -> Singles:
        """The state a step on, before frame t is seen."""
        left, moved = slice(self.seen.ended[t], None), self._through(state, t, self.to)
        renew = self.renew[left, t]
        anew = renew * self.fresh[left, t] * moved.sum(axis=1, keepdims=True)
        moved *= 1 - renew
        moved += anew
        return moved

    def moved_back(self, state: Singles, t: int) -> Singles:
        """The transposed step; the state is used up."""
        left = slice(self.seen.ended[t], None)
        renew = self.renew[left, t]
        anew = (self.fresh[left, t] * state).sum(axis=1, keepdims=True)
        state *= 1 - renew
        state += renew * anew
        return self._through(state, t, self.back)

    def _through(self, state: Singles, t: int, turn: tuple[Singles, Singles]) -> Singles:
        """A step: the light's walk, and the class changes by `turn`."""
        # One small product a run: large ones would go to several threads, which cost more than they save.
        left = slice(self.seen.ended[t], None)
        waves = self.wave @ state
        quick, slow = waves @ turn[0], waves @ turn[1]
        waves *= self.stay[left, t]
        waves += np.multiply(quick, self.quick[left, t], out=quick)
        waves += np.multiply(slow, self.slow[left, t], out=slow)
        moved = np.matmul(self.wave.T, waves, out=quick)
        return np.maximum(moved, LEAST, out=moved)


def _backwards(
    first: Singles, step: Callable[[Singles, int], Singles], length: int
) -> Iterator[tuple[int, Singles]]:
    """(t, state) from the last frame to the first, in memory that grows little with the length."""
    kept = [first]
    state = first
    for t in range(1, (length - 1) // KEEP * KEEP + 1):
        state = step(state, t)
        if t % KEEP == 0:
            kept.append(state)
    for block in range(len(kept) - 1, -1, -1):
        states = [kept.pop()]
        for t in range(block * KEEP + 1, min((block + 1) * KEEP, length)):
            states.append(step(states[-1], t))
        for t in range(len(states) - 1, -1, -1):
            yield block * KEEP + t, states[t]


def _scaled(state: Singles) -> tuple[Singles, Floats]:
    """The state with its sum over each run made 1, and the log of what it was."""
    total = np.maximum(state.sum(axis=(1, 2)), TINY)
    state *= (1 / total)[:, None, None]
    return np.maximum(state, LEAST, out=state), np.log(total).astype(np.float64)


def _clear(factor: NDArray[np.floating]) -> Singles:
    """A factor without what is too small to matter."""
    return np.where(factor < NOUGHT, 0, factor).astype(np.float32)


def _rest(first: Singles, after: Singles) -> Floats:
    """Log of what was not yet scaled away."""
    return np.log(np.maximum((first * after).sum(axis=(1, 2)), TINY)).astype(np.float64)
