"""Brackets by cameras that are not ours: invented landscapes, tripod, exposures as nominal plus a scatter."""

from functools import lru_cache

import foreign
import numpy as np

from audit.demo.scene import LOOKS, paint

WIDTH_PX, HEIGHT_PX = 480, 320
MIDDLE_LIGHT = 0.17
"""Of the sensor's white: where a meter puts the scene's mean."""
FRAMES = {1 / 3: 7, 1 / 2: 7, 2 / 3: 5, 1.0: 5, 4 / 3: 5, 2.0: 3}
"""Frames of a bracket by the step between them, in stops."""


@lru_cache(maxsize=32)
def scene(seed):
    """Linear light, mean 1, of the composition of this number."""
    rng = np.random.default_rng(seed)
    look = sorted(LOOKS)[seed % len(LOOKS)]
    return paint(look, seed, WIDTH_PX, HEIGHT_PX, float(rng.uniform(6.5, 19.5)), 0.9)


def shots(curve, seed, evs, *, scatter_stops=0.0, phone=None):
    """(luma codes, ev100) for each of the exposures `evs` (0: as metered; higher: less light)."""
    rng = np.random.default_rng((seed, 1))
    iso, quality = int(rng.choice([100, 200, 400, 800])), int(rng.integers(85, 96))
    out = []
    for number, ev in enumerate(evs):
        light = MIDDLE_LIGHT * 2.0 ** (rng.normal(0, scatter_stops) - ev)
        lit = scene(seed) * np.float32(light)
        if phone:
            lit = foreign.pulled(lit, phone, rng)
        jpeg = foreign.photograph(lit, curve, seed=100 * seed + number, iso=iso, quality=quality)
        out.append((foreign.grey(jpeg), float(ev)))
    return out


def bracket(curve, seed, *, scatter_stops=0.0, step=None):
    """A bracket as cameras make it, about the metered exposure."""
    rng = np.random.default_rng((seed, 2))
    step = step or float(rng.choice(list(FRAMES)))
    evs = rng.uniform(-0.5, 0.7) + step * (np.arange(FRAMES[step]) - (FRAMES[step] - 1) / 2)
    return shots(curve, seed, evs, scatter_stops=scatter_stops)


def pairs(frames, least=0.2, most=3.25):
    """(brighter, darker, stops) of each two frames between `least` and `most` apart."""
    ordered = sorted(frames, key=lambda frame: frame[1])
    for index, (bright, low) in enumerate(ordered):
        for dark, high in ordered[index + 1 :]:
            if least - 1e-9 <= high - low <= most + 1e-9:
                yield bright, dark, high - low
