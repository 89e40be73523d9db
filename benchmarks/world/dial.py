"""What a camera's dials offer: times, f-numbers and ISO by thirds or halves of a stop, named and exact.

The names are those of the trade: common practice, no source.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

LONGEST_S = 30.0
_THIRDS = (
    *(1, 1.3, 1.6, 2, 2.5, 3.2, 4, 5, 6, 8, 10, 13, 15, 20, 25, 30),
    *(1, 1.25, 1.6, 2, 2.5, 3, 4, 5, 6, 8, 10, 13, 15, 20, 25, 30, 40, 50, 60, 80, 100, 125, 160, 200, 250),
    *(320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000),
)
_HALVES = (
    *(1, 1.5, 2, 3, 4, 6, 8, 10, 15, 20, 30),
    *(1, 1.5, 2, 3, 4, 6, 8, 10, 15, 20, 30, 45, 60, 90, 125, 180, 250, 350, 500, 750, 1000, 1500, 2000),
    *(3000, 4000, 6000, 8000),
)
_SHORT_NAMES = {(3, -2): "0.6", (3, -5): "0.3", (2, -1): "0.7"}
_ISO_THIRDS = (
    64,
    80,
    100,
    125,
    160,
    200,
    250,
    320,
    400,
    500,
    640,
    800,
    1000,
    1250,
    1600,
    2000,
    2500,
    3200,
    4000,
)
_ISO_HALVES = (100, 140, 200, 280, 400, 560, 800, 1100, 1600, 2200, 3200)
_F_THIRDS = (2.8, 3.2, 3.5, 4, 4.5, 5, 5.6, 6.3, 7.1, 8, 9, 10, 11, 13, 14, 16, 18, 20, 22)
_F_HALVES = (2.8, 3.3, 4, 4.8, 5.6, 6.7, 8, 9.5, 11, 13, 16, 19, 22)


def nominal_time(step: int, per_stop: int) -> Fraction:
    """The number by which a camera names 2^(step / per_stop) s; step at most that of 30 s."""
    names, ones = (_THIRDS, 16) if per_stop == 3 else (_HALVES, 11)
    if step >= 0:
        return Fraction(str(names[step]))
    if (per_stop, step) in _SHORT_NAMES:
        return Fraction(_SHORT_NAMES[per_stop, step])
    return 1 / Fraction(str(names[ones - step]))


def step_of(seconds: float, per_stop: int, how: str = "near") -> int:
    """The step of the series for a wish, rounded near, up or down, within what the dial offers."""
    exact = math.log2(seconds) * per_stop
    step = {"near": round(exact), "up": math.ceil(exact - 0.05), "down": math.floor(exact + 0.05)}[how]
    names, ones = (_THIRDS, 16) if per_stop == 3 else (_HALVES, 11)
    return int(np.clip(step, -(len(names) - ones - 1), ones - 1))


def f_setting(wish: float, per_stop: int) -> tuple[float, float]:
    """f-number as named and as it is."""
    names = _F_THIRDS if per_stop == 3 else _F_HALVES
    name = min(names, key=lambda n: abs(math.log2(n / wish)))
    exact = 2.0 ** (round(2 * math.log2(name) * per_stop) / (2 * per_stop))
    return float(name), exact


def iso_at_least(wish: float, per_stop: int, base: int) -> int:
    """The next ISO of the camera's series from its base upwards."""
    low = _ISO_THIRDS if per_stop == 3 else _ISO_HALVES
    series = [*low, *(n * 2**k for k in range(1, 6) for n in low[-per_stop:])]
    return next((n for n in series if n >= max(base, 0.93 * wish)), series[-1])
