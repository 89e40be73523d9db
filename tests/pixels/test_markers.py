"""Frames that only mark a change, among landscapes that change for other reasons."""

import foreign
import numpy as np
import pytest

from audit.demo.scene import LOOKS, paint
from audit.pixels.compositions import fingerprint
from audit.pixels.overview import Glance, find_markers


def landscape(seed, hour=13.0, darker=0.0, still=0.5):
    light = paint(list(LOOKS)[seed % 5], seed, 480, 320, hour, still) * np.float32(0.16 * 2.0**-darker)
    return foreign.grey(foreign.photograph(light, "even", seed=seed))


def hand(seed):
    """A pale shape before a blur: what a palm at arm's length looks like."""
    rows, columns = np.mgrid[0:320, 0:480]
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(180, 300), rng.uniform(140, 200)
    palm = np.exp(-(((columns - x) / 110) ** 4) - (((rows - y) / 90) ** 4))
    light = (0.03 + 0.3 * palm)[..., None] * np.array([1.0, 0.8, 0.7])
    return foreign.grey(foreign.photograph(light.astype(np.float32), "even", seed=seed))


def glance(minute, grey, seconds=0.0):
    black = float((grey <= 1).mean())
    return Glance(minute, minute + seconds / 60, fingerprint(grey), black)


def test_a_cap_is_a_marker_always_and_a_hand_mostly():
    found = []
    for seed in range(20):
        scene = landscape(seed)
        cap = np.zeros_like(scene)
        run = [glance(0, scene), glance(1, hand(seed)), glance(2, scene), glance(2.5, cap), glance(3, scene)]
        found.append([bool(words) for words in find_markers(run)])
    told = np.array(found)
    assert told[:, 3].all()
    assert not told[:, [0, 2, 4]].any()
    assert told[:, 1].mean() >= 0.8


@pytest.mark.parametrize("seed", range(20))
def test_no_landscape_is_a_marker(seed):
    same = [
        glance(0, landscape(seed)),
        glance(1, landscape(seed, darker=2)),
        glance(5, landscape(seed, still=1)),
    ]
    recomposed = [glance(n, landscape(seed + 5 * n)) for n in range(4)]
    assert find_markers(same) == [""] * 3
    assert find_markers(recomposed) == [""] * 4


def test_what_was_not_looked_at_or_lies_far_apart_says_nothing():
    scene, palm = landscape(3), hand(3)
    assert find_markers([glance(0, scene), glance(30, palm), glance(31, scene)]) == [""] * 3
    assert find_markers([None, glance(1, palm), glance(2, scene)]) == [""] * 3
    assert find_markers([]) == []
