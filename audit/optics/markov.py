"""Which class of filters was worn, frame by frame: a hidden state seen through the exposures.

The state of a frame is a light level on a grid and a class of worn filters. From frame to frame the light
diffuses (a walk whose variance and jumps the caller gives) and the class may change; the frame is then seen
with a likelihood that depends on the level less the class' stops. Every light kernel is even and reflected
at the ends, so that all of them are diagonal in one cosine basis: a step is two products with that basis and
one with the class changes, whatever the time between the frames. Its cost does not grow with the time gap,
and the whole cost is linear in the frames. Runs of frames are independent and go through side by side.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audit.optics.arrays import Floats

Singles = NDArray[np.float32]
Wholes = NDArray[np.int32]

KEEP = 128
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
    """R runs of T frames; shorter ones end in frames with row 0 of `table` and no change or walk.

    Likelihood of a frame: `table[place + cell]` x `table[second + cell]` x `class_weight` x (level below
    `ceiling`, softened over a step of the levels) x (level about `beside`). No NaN anywhere.

    Attributes
    ----------
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


def forward_backward(chain: Chain, runs: Runs) -> Posterior:
    """Chance of each class in each frame, given all frames of its run.

    Parameters
    ----------
    chain : what is alike in all runs [-]
    runs : the frames; no NaN [-]

    Returns
    -------
    chances, levels and likelihoods [-]

    Source
    ------
    Own derivation: sums over all paths, forwards and backwards; beside sums over every path one by one.
    """
    walk = _Walk(chain, runs)
    count, length = runs.place.shape
    classes = np.empty((count, length, len(chain.start)), dtype=np.float32)
    level = np.empty((count, length), dtype=np.float32)
    logs = np.zeros(count)

    def step(state: Singles, t: int) -> Singles:
        return _scaled(walk.moved(state, t) * walk.seen(t))[0]

    first, logs_first = _scaled(walk.first() * walk.seen(0))
    logs += logs_first
    after = np.ones_like(first)
    for t, state in _backwards(first, step, length):
        both = state * after
        by_class = both.sum(axis=1)
        total = np.maximum(by_class.sum(axis=1, keepdims=True), TINY)
        classes[:, t] = by_class / total
        level[:, t] = both.sum(axis=2) @ walk.levels / total[:, 0]
        if t:
            after, scale = _scaled(walk.moved_back(np.maximum(after * walk.seen(t), LEAST), t))
            logs += scale
    return Posterior(classes, level, logs + _rest(first, after))


class _Walk:
    """The steps of all runs, with states of shape (R, G, C)."""

    def __init__(self, chain: Chain, runs: Runs) -> None:
        size = len(chain.levels)
        row = np.arange(size)
        wave = np.cos(np.pi * row[:, None] * (row[None, :] + 0.5) / size) * np.sqrt(2 / size)
        wave[0] /= np.sqrt(2)
        self.runs, self.chain = runs, chain
        self.readings, self.reading = _readings(runs)
        self.kept: dict[int, Singles] = {}
        self.wave = wave.astype(np.float32)
        self.levels = chain.levels.astype(np.float32)
        self.step_stops = float(chain.levels[1] - chain.levels[0])
        # Frequency response of the grid's second difference: exp and 1/(1 + .) of it are chances, never < 0.
        self.rough = ((1 - np.cos(np.pi * row / size)) / self.step_stops**2).astype(np.float32)
        self.restart = _clear(np.exp(-chain.restart_var * self.rough))[:, None]
        self.to = _clear(chain.quick), _clear(chain.slow)
        self.back = _clear(chain.quick.T), _clear(chain.slow.T)

    def first(self) -> Singles:
        """The state before the first frame is seen."""
        return self._fresh(0) * self.chain.start.astype(np.float32)

    def _fresh(self, t: int) -> Singles:
        """Chance (R, G, 1) of each level of frame t by itself."""
        return self.runs.fresh[self.runs.fresh_row[:, t], :, None]

    def seen(self, t: int) -> Singles:
        """Likelihood of frame t; kept, since a block of frames is gone through forwards, then backwards."""
        if t not in self.kept:
            if len(self.kept) > KEEP:
                self.kept.clear()
            self.kept[t] = self._seen(t)
        return self.kept[t]

    def _seen(self, t: int) -> Singles:
        runs = self.runs
        like = self.readings[self.reading[:, t]]
        above = np.clip((self.levels - runs.ceiling[:, t, None]) / self.step_stops, -4, 4)
        level = 1 / (1 + np.exp(4 * above))
        sd = runs.beside_sd[:, t, None]
        off = (self.levels - runs.beside[:, t, None]) / np.maximum(sd, 0.1)
        level *= np.where(sd > 0, BESIDE_WRONG + np.exp(-0.5 * off**2), 1)
        like *= level[:, :, None]
        like *= runs.class_weight[:, None, t]
        return like

    def kernel(self, t: int) -> Singles:
        """Frequency response (R, G) of the light's step into frame t."""
        runs = self.runs
        jump = runs.jump[:, t, None]
        still = np.exp(-runs.walk_var[:, t, None] * self.rough)
        return _clear(still * (1 - jump) + jump / (1 + 2 * runs.jump_stops[:, t, None] ** 2 * self.rough))

    def moved(self, state: Singles, t: int) -> Singles:
        """The state a step on, before frame t is seen."""
        moved, renew = self._through(state, t, self.to), self.runs.renew[:, t, None, None]
        by_class = moved.sum(axis=1, keepdims=True)
        moved *= 1 - renew
        moved += renew * self._fresh(t) * by_class
        return moved

    def moved_back(self, state: Singles, t: int) -> Singles:
        """The transposed step."""
        renew = self.runs.renew[:, t, None, None]
        anew = (self._fresh(t) * state).sum(axis=1, keepdims=True)
        return self._through((1 - renew) * state + renew * anew, t, self.back)

    def _through(self, state: Singles, t: int, turn: tuple[Singles, Singles]) -> Singles:
        """A step: the light's walk, and the class changes by `turn`."""
        # One small product a run: large ones would go to several threads, which cost more than they save.
        change, hasty = self.runs.change[:, t, None, None], self.runs.hasty[:, t, None, None]
        kernel = self.kernel(t)[:, :, None]
        restart = kernel * self.restart * change
        waves = self.wave @ state
        quick, slow = waves @ turn[0], waves @ turn[1]
        waves *= kernel * (1 - change)
        waves += np.multiply(quick, restart * hasty, out=quick)
        waves += np.multiply(slow, restart * (1 - hasty), out=slow)
        moved = self.wave.T @ waves
        return np.maximum(moved, LEAST, out=moved)


def _readings(runs: Runs) -> tuple[Singles, Wholes]:
    """Likelihoods (K, G, C) of the readings that differ, and which of them each frame has (R, T)."""
    both = np.stack([runs.place.ravel(), runs.second.ravel()])
    (place, second), number = np.unique(both, axis=1, return_inverse=True)
    likely = runs.table[place[:, None, None] + runs.cell]
    likely *= runs.table[second[:, None, None] + runs.cell]
    return likely, number.reshape(runs.place.shape).astype(np.int32)


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
