"""Light of the invented days and the exposures a camera can set."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

# EV100 of an open landscape by the hour of a clear autumn day far north; the dusk falls about .09 stop a
# minute. Noon near 15 and sunset near 12: common practice, no source.
_HOURS = [4.0, 5.0, 6.0, 7.0, 7.5, 8.5, 10.0, 12.0, 14.0, 16.0, 17.5, 18.5, 19.0, 20.0, 21.0, 22.0]
_EV100 = [-3.0, -0.8, 4.4, 9.6, 11.4, 13.2, 14.3, 15.0, 14.9, 14.2, 12.9, 11.2, 9.4, 4.2, -0.8, -3.0]

# Nominal shutter times in the order of exact thirds of a stop from 32 s on (as cameras write them).
_WHOLE = ("30", "25", "20", "15", "13", "10", "8", "6", "5", "4", "3.2", "2.5", "2", "1.6", "1.3", "1")
_PARTS = ("0.8", "0.6", "0.5", "0.4", "0.3")
_BELOW = (4, 5, 6, 8, 10, 13, 15, 20, 25, 30, 40, 50, 60, 80, 100, 125, 160, 200, 250, 320, 400, 500)
_SHORT = (640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000)
_NOMINAL = tuple(Fraction(t) for t in _WHOLE + _PARTS) + tuple(Fraction(1, n) for n in _BELOW + _SHORT)
_F_NOMINAL = {2.8: 3.0, 4.0: 4.0, 5.6: 5.0, 8.0: 6.0, 9.0: 19 / 3, 10.0: 20 / 3, 11.0: 7.0, 13.0: 22 / 3}
_F_NOMINAL |= {16.0: 8.0, 22.0: 9.0}


def day_light(hour: float) -> float:
    """EV100 of the open landscape at an hour of the day, true local time."""
    return float(np.interp(hour, _HOURS, _EV100))


def exact_f_number(nominal: float) -> float:
    """The aperture really set behind a nominal f-number: a whole third of a stop."""
    return 2.0 ** (_F_NOMINAL[nominal] / 2)


def set_time(wanted_s: float) -> tuple[Fraction, float]:
    """The nominal time a camera writes and the exact time it keeps, nearest to the wanted one.

    Raises ValueError beyond 30 s and 1/4000 s: there the plan must set ISO or a bulb time.
    """
    step = round((5 - math.log2(wanted_s)) * 3)
    if not 0 <= step < len(_NOMINAL):
        raise ValueError(f"{wanted_s:g} s is outside the shutter's range")
    return _NOMINAL[step], 2.0 ** (5 - step / 3)


def time_by_hand(wanted_s: float) -> tuple[Fraction, float]:
    """As `set_time` on the dial, and beyond 30 s the time a remote release holds the shutter open."""
    return set_time(wanted_s) if wanted_s <= 30 else (Fraction(wanted_s), wanted_s)


def exposure_ev100(f_number: float, time_s: float, iso: float) -> float:
    """EV100 of a setting: the light for which it is the right exposure."""
    return math.log2(f_number**2 / time_s) - math.log2(iso / 100)
