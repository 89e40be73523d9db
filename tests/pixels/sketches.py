"""Small pictures compared to the bit, for tests of the cache."""

import dataclasses

import numpy as np

from audit.pixels.sketch import Sketch


def same(a: Sketch | None, b: Sketch | None) -> bool:
    if a is None or b is None:
        return a is b
    ours, theirs = dataclasses.asdict(a), dataclasses.asdict(b)
    return all(np.array_equal(ours[k], theirs[k]) and type(ours[k]) is type(theirs[k]) for k in ours)
