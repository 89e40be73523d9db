"""The hidden chain against sums and maxima over every path."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from audit.optics import markov as hidden
from audit.optics.markov import Chain, Runs, forward_backward

LEVELS = np.array([-1.0, 0.0, 1.0, 2.0])


def chain():
    quick = np.array([[0.1, 0.9, 0.0], [0.7, 0.0, 0.3], [0.2, 0.8, 0.0]])
    slow = np.array([[0.0, 0.5, 0.5], [0.5, 0.0, 0.5], [0.5, 0.5, 0.0]])
    return Chain(LEVELS, quick, slow, np.array([0.6, 0.3, 0.1]), 0.2)


def runs(seed, count=2, length=4):
    rng = np.random.default_rng(seed)
    shape = (count, length)
    return Runs(
        length=np.full(count, length, dtype=np.int32),
        table=rng.uniform(0.05, 1, 40).astype(np.float32),
        place=rng.integers(0, 20, shape).astype(np.int32),
        second=rng.integers(0, 20, shape).astype(np.int32),
        cell=rng.integers(0, 20, (4, 3)).astype(np.int32),
        class_weight=rng.uniform(0.1, 1, (*shape, 3)).astype(np.float32),
        ceiling=rng.uniform(0.5, 4, shape).astype(np.float32),
        beside=rng.uniform(-1, 2, shape).astype(np.float32),
        beside_sd=rng.choice([0.0, 0.7], shape).astype(np.float32),
        walk_var=rng.uniform(0.01, 1, shape).astype(np.float32),
        jump=rng.uniform(0, 0.3, shape).astype(np.float32),
        jump_stops=rng.uniform(0.5, 2, shape).astype(np.float32),
        change=rng.uniform(0, 0.6, shape).astype(np.float32),
        hasty=rng.uniform(0, 1, shape).astype(np.float32),
        fresh=rng.dirichlet(np.ones(4), 3).astype(np.float32),
        fresh_row=rng.integers(0, 3, shape).astype(np.int32),
        renew=rng.uniform(0, 0.5, shape).astype(np.float32),
    )


def light_kernel(variance, jump, size, restart_var):
    """Of a reflected walk, by its generator: no cosine basis here."""
    second = np.diag(np.ones(3), 1) + np.diag(np.ones(3), -1)
    second -= np.diag(second.sum(axis=1))
    values, vectors = np.linalg.eigh(second)
    still = vectors @ np.diag(np.exp(variance / 2 * values)) @ vectors.T
    far = np.linalg.inv(np.eye(4) - size**2 * second)
    restart = vectors @ np.diag(np.exp(restart_var / 2 * values)) @ vectors.T
    kernel = (1 - jump) * still + jump * far
    return kernel, kernel @ restart


def step_parts(c, r, run, t):
    same, other = light_kernel(r.walk_var[run, t], r.jump[run, t], r.jump_stops[run, t], c.restart_var)
    change, hasty = r.change[run, t], r.hasty[run, t]
    turn = change * (hasty * c.quick + (1 - hasty) * c.slow)
    return same * (1 - change), other, turn


def like(r, run, t):
    above = np.clip((LEVELS - r.ceiling[run, t]) / 1.0, -4, 4)
    seen = r.table[r.place[run, t] + r.cell] * r.table[r.second[run, t] + r.cell]
    level = 1 / (1 + np.exp(4 * above))
    if r.beside_sd[run, t]:
        level = level * (0.02 + np.exp(-0.5 * ((LEVELS - r.beside[run, t]) / r.beside_sd[run, t]) ** 2))
    return seen * level[:, None] * r.class_weight[run, t]


def by_all_paths(c, r, run):
    """Posterior of the classes and log likelihood, and the most likely path with its own."""
    length = r.place.shape[1]
    states = list(product(range(4), range(3)))
    total, sums, best, best_path = 0.0, np.zeros((length, 3)), -1.0, None
    parts = [None, *(step_parts(c, r, run, t) for t in range(1, length))]
    seen = [like(r, run, t) for t in range(length)]
    for path in product(states, repeat=length):
        chance = top = r.fresh[r.fresh_row[run, 0], path[0][0]] * c.start[path[0][1]] * seen[0][path[0]]
        for t in range(1, length):
            (g0, c0), (g1, c1) = path[t - 1], path[t]
            same, other, turn = parts[t]
            renew, anew = r.renew[run, t], r.fresh[r.fresh_row[run, t], g1]
            kept = same[0].sum() if c0 == c1 else 0.0  # rows of a light kernel have one sum
            stay = (1 - renew) * same[g0, g1] * (c0 == c1) + renew * anew * kept
            moved = ((1 - renew) * other[g0, g1] + renew * anew) * turn[c0, c1]
            chance *= (stay + moved) * seen[t][path[t]]
            top *= max(stay, moved) * seen[t][path[t]]
        total += chance
        for t, (_, k) in enumerate(path):
            sums[t, k] += chance
        if top > best:
            best, best_path = top, [k for _, k in path]
    return sums / total, np.log(total), best_path, np.log(best)


@pytest.mark.parametrize("seed", range(4))
def test_posterior_is_the_sum_over_all_paths(seed):
    c, r = chain(), runs(seed)
    (found,) = forward_backward(c, r)
    for run in range(2):
        classes, log_likelihood, _, _ = by_all_paths(c, r, run)
        np.testing.assert_allclose(found.classes[run], classes, atol=2e-5)
        assert found.log_likelihood[run] == pytest.approx(log_likelihood, abs=1e-4)


def test_states_computed_again_give_the_same(monkeypatch):
    c, r = chain(), runs(7, count=3, length=50)
    (whole,) = forward_backward(c, r)
    monkeypatch.setattr(hidden, "KEEP", 8)
    (part,) = forward_backward(c, r)
    np.testing.assert_allclose(part.classes, whole.classes, atol=1e-6)
    np.testing.assert_allclose(part.log_likelihood, whole.log_likelihood, atol=1e-4)


def test_a_run_does_not_hear_of_the_others_nor_of_what_stands_behind_its_end():
    c, r = chain(), replace(runs(3, count=2, length=6), length=np.array([4, 6], dtype=np.int32))
    shared = ("table", "cell", "fresh")
    short = {name: value if name in shared else value[:1] for name, value in vars(r).items()}
    alone = Runs(**{n: v[:, :4] if v.ndim > 1 and n not in shared else v for n, v in short.items()})
    (both,), (one,) = forward_backward(c, r), forward_backward(c, alone)
    np.testing.assert_array_equal(both.classes[0, :4], one.classes[0])
    np.testing.assert_array_equal(both.level[0, :4], one.level[0])
    assert both.log_likelihood[0] == one.log_likelihood[0]


def test_every_pace_is_a_chance_of_change_of_its_own():
    c, r = chain(), runs(5)
    slow = forward_backward(c, r, (1.0, 0.25))[1]
    (other,) = forward_backward(c, replace(r, change=r.change * np.float32(0.25)))
    np.testing.assert_array_equal(slow.classes, other.classes)
