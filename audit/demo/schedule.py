"""From the plan to frames: file names and folders, clocks, and the exposure each camera sets."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

import numpy as np

from audit.demo.gear import BODIES, GLASSES, Body, even_stops
from audit.demo.take import Scene, Take

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


DATES = {1: (2025, 9, 12), 2: (2025, 9, 13), 3: (2025, 9, 14), 4: (2025, 9, 15)}
DAY_FOLDERS = {2: "2025-09-13 Ravnsund", 3: "2025-09-14 Holmfjell", 4: "2025-09-15 Lomsvik"}
B_AHEAD_S = 95
GRAD_SEEN_BY_METER = 0.4
METER_ERROR_STOPS = 0.12


@dataclass(frozen=True)
class Frame:
    """One exposure as it really happened and as its file will say."""

    scene: Scene
    take: Take
    body: Body
    number: int
    folder: str
    counter: int
    true_time: datetime
    camera_time: datetime
    utc_offset: str
    sub_second: int
    light_ev100: float
    nominal_s: Fraction
    exact_s: float

    @property
    def name(self) -> str:
        """File name without ending."""
        return f"{self.body.prefix}{self.counter:04d}"

    @property
    def id(self) -> str:
        """Path below the dump without ending."""
        return f"{self.folder}/{self.name}"

    @property
    def iso(self) -> int:
        """ISO set."""
        return self.take.iso or self.scene.iso

    @property
    def f_number(self) -> float:
        """Aperture set, nominal."""
        return self.take.f_number or self.scene.f_number

    @property
    def relative_exposure(self) -> float:
        """What reaches the sensor before any filter, 1 = as metered for an average."""
        setting = exposure_ev100(exact_f_number(self.f_number), self.exact_s, self.iso)
        return float(2.0 ** (self.light_ev100 - setting))


def frames(trip: Sequence[Scene]) -> list[Frame]:
    """Every frame of the trip, by body and true time."""
    return [frame for label in BODIES for frame in _of_body(trip, BODIES[label])]


def _of_body(trip: Sequence[Scene], body: Body) -> list[Frame]:
    takes = [
        (_when(scene, one), scene, one) for scene in trip if scene.body == body.label for one in scene.takes
    ]
    takes.sort(key=lambda t: (t[0], t[2].sub_second))
    counter, card_folder, made = body.first_counter, body.first_folder, []
    for number, (when, scene, one) in enumerate(takes):
        counter += one.gap_before
        if counter > 9999:
            counter, card_folder = counter - 9999, card_folder + 1
        folder = DAY_FOLDERS.get(scene.day, f"{body.card}/DCIM/{card_folder}{body.folder_suffix}")
        made.append(_frame(scene, one, body, number, folder, counter, when))
        counter += 1
    return made


def _when(scene: Scene, one: Take) -> datetime:
    hour, minute, second = (int(part) for part in one.at.split(":"))
    return datetime(*DATES[scene.day], hour, minute, second)


def _frame(
    scene: Scene, one: Take, body: Body, number: int, folder: str, counter: int, when: datetime
) -> Frame:
    chance = random.Random(scene.seed * 1000 + number)
    light = day_light(when.hour + when.minute / 60 + when.second / 3600)
    light += scene.light_stops + one.light_stops
    nominal, exact = _exposure(scene, one, light + chance.uniform(-METER_ERROR_STOPS, METER_ERROR_STOPS))
    ahead_s, utc_offset = _clock(body, scene.day)
    sub_second = one.sub_second if one.sub_second >= 0 else chance.randrange(100)
    camera_time = when + timedelta(seconds=ahead_s)
    clock = (when, camera_time, utc_offset, sub_second)
    return Frame(scene, one, body, number, folder, counter, *clock, light, nominal, exact)


def _clock(body: Body, day: int) -> tuple[int, str]:
    """Seconds ahead of true local time, and the offset written: on day three B missed the new time zone,
    on day four both are back in the first."""
    if body.label == "A":
        return 0, "+03:00" if day == 3 else "+02:00"
    return B_AHEAD_S - (3600 if day == 3 else 0), "+02:00"


def _exposure(scene: Scene, one: Take, metered_ev100: float) -> tuple[Fraction, float]:
    """By hand, or aperture priority through whatever is on the lens."""
    if one.shutter_s is not None:
        return time_by_hand(one.shutter_s)
    grads = sum(GLASSES[g].stops for g in one.on.glasses if GLASSES[g].kind == "grad")
    seen = metered_ev100 - even_stops(one.on) - GRAD_SEEN_BY_METER * grads - one.bias_stops
    f_number = exact_f_number(one.f_number or scene.f_number)
    return set_time(f_number**2 * 100 / (2.0**seen * (one.iso or scene.iso)))
