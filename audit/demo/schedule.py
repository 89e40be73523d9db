"""From the plan to frames: file names and folders, clocks, and the exposure each camera sets."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

from audit.demo.gear import BODIES, GLASSES, Body, even_stops
from audit.demo.light import day_light, exact_f_number, exposure_ev100, set_time, time_by_hand
from audit.demo.take import Scene, Take

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
