"""The light over a day: the sun's height, what comes over the ridge, clouds, and shade that moves.

Illuminance by the sun's height: round figures as daylighting handbooks give them for a clear sky, from
memory; exposure value at ISO 100 = log2(lux / 2.5), the usual constant of incident meters. Clouds are patches
with soft edges one after another (their lengths and gaps log-normal) under a veil of slow waves; no part of
it is a random walk.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import date

import numpy as np
from numpy.typing import NDArray

from benchmarks.world.kits import Rng

Floats = NDArray[np.float64]

DAY_S = 86_400
GRID_S = 5.0
_HEIGHT_DEG = (-18, -15, -12, -9, -6, -4, -2, -0.8, 0, 1, 2, 3, 5, 8, 12, 18, 25, 35, 50, 70, 90)
_LUX = (
    *(6e-4, 1.2e-3, 8e-3, 0.16, 3.4, 25, 120, 400, 700, 1300, 2100, 3100, 5500, 10e3, 17e3, 28e3, 42e3, 60e3),
    *(83e3, 104e3, 118e3),
)
_DIRECT_SHARE = ((-0.8, 0.0), (1, 0.4), (3, 0.6), (8, 0.72), (30, 0.8), (90, 0.85))
"""Part of the light on upright things that comes straight from a clear sky's sun, by its height: a guess."""

SKIES = ("clear", "broken", "overcast", "stormy")


def sun_height_deg(day: date, utc_s: Floats, latitude_deg: float, longitude_deg: float) -> Floats:
    """Height of the sun's centre without refraction, to about half a degree (textbook approximation)."""
    number = day.timetuple().tm_yday + utc_s / DAY_S
    declination = np.radians(-23.44) * np.cos(2 * np.pi * (number + 10) / 365.24)
    b = 2 * np.pi * (number - 81) / 365
    equation_min = 9.87 * np.sin(2 * b) - 7.53 * np.cos(b) - 1.5 * np.sin(b)
    hour = np.radians((utc_s / 3600 - 12) * 15 + longitude_deg + equation_min / 4)
    latitude = math.radians(latitude_deg)
    sine = math.sin(latitude) * np.sin(declination) + math.cos(latitude) * np.cos(declination) * np.cos(hour)
    return np.degrees(np.arcsin(np.clip(sine, -1, 1)))


@dataclass(frozen=True)
class Knots:
    """Stops over time as straight lines between knots; constant outside."""

    at_s: Floats = field(default_factory=lambda: np.zeros(1))
    stops: Floats = field(default_factory=lambda: np.zeros(1))

    def at(self, t_s: Floats) -> Floats:
        """The stops at those times."""
        return np.interp(t_s, self.at_s, self.stops)


@dataclass(frozen=True)
class Sky:
    """Light on an even landscape over one day and the night after it; times are seconds of UTC from `day`."""

    day: date
    kind: str
    latitude_deg: float
    longitude_deg: float
    night_lux: float
    ridge_deg: float
    ridge_s: float
    clouds: Knots
    veil: tuple[tuple[float, float, float], ...]

    def height_deg(self, t_s: Floats) -> Floats:
        """The sun's height."""
        return sun_height_deg(self.day, t_s, self.latitude_deg, self.longitude_deg)

    def clear_ev100(self, t_s: Floats) -> Floats:
        """Light without clouds, the ridge in it: below it the straight part is missing."""
        height = self.height_deg(t_s)
        lux = np.exp2(np.interp(height, _HEIGHT_DEG, np.log2(_LUX)))
        share = np.interp(height, *np.array(_DIRECT_SHARE).T)
        over = np.clip((height - self.ridge_deg) / (0.25 * self.ridge_s / 60) + 0.5, 0.0, 1.0)
        lux = lux * (1 - share * (1 - over)) + self.night_lux
        return np.log2(lux / 2.5)

    def cloud_stops(self, t_s: Floats) -> Floats:
        """What the clouds take or give; a night's clouds matter less."""
        stops = self.clouds.at(t_s)
        for amount, period_s, phase in self.veil:
            stops = stops + amount * np.sin(2 * np.pi * t_s / period_s + phase)
        return stops * np.interp(self.height_deg(t_s), (-8, 2), (0.4, 1.0))

    def ev100(self, t_s: Floats) -> Floats:
        """Light by sun, ridge and clouds."""
        return self.clear_ev100(t_s) + self.cloud_stops(t_s)


def draw_sky(rng: Rng, day: date, latitude_deg: float, longitude_deg: float) -> Sky:
    """A day's weather."""
    kind = str(rng.choice(SKIES, p=[0.3, 0.35, 0.25, 0.1]))
    quiet = {"clear": 0.12, "broken": 0.25, "overcast": 0.35, "stormy": 0.5}[kind]
    veil = tuple(
        (
            float(quiet * rng.uniform(0.3, 1.0)),
            float(rng.uniform(500, 6000)),
            float(rng.uniform(0, 2 * np.pi)),
        )
        for _ in range(3)
    )
    return Sky(
        day=day,
        kind=kind,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        night_lux=float(0.002 if rng.random() < 0.6 else rng.uniform(0.02, 0.2)),
        ridge_deg=float(rng.choice([0.0, rng.uniform(0, 2), rng.uniform(2, 9)])),
        ridge_s=float(rng.uniform(90, 300)),
        clouds=_clouds(rng, kind),
        veil=veil,
    )


def _clouds(rng: Rng, kind: str) -> Knots:
    """Patches from the day before to the day after, so that local time may lie anywhere."""
    base = {"clear": 0.0, "broken": 0.0, "overcast": -float(rng.uniform(1.2, 3)), "stormy": -1.0}[kind]
    gap_min, patch_min = {"clear": (90, 3), "broken": (5, 4), "overcast": (20, 15), "stormy": (6, 6)}[kind]
    at, stops = [-float(DAY_S)], [base]
    while at[-1] < 2 * DAY_S:
        start = at[-1] + 60 * float(rng.lognormal(math.log(gap_min), 0.8))
        length = 60 * float(rng.lognormal(math.log(patch_min), 0.7))
        edge_in, edge_out = (float(x) for x in rng.lognormal(math.log(35), 0.7, size=2))
        depth = -float(rng.uniform(1, 3)) if kind in ("clear", "broken") else float(rng.uniform(-1.6, 1.2))
        at += [start, start + edge_in, start + edge_in + length, start + edge_in + length + edge_out]
        stops += [base, base + depth, base + depth, base]
    return Knots(np.array(at), np.array(stops))


def draw_shade(rng: Rng, start_s: float, strong: bool) -> Knots:
    """Shade of trees, rocks or foam that wanders through one framing within the next two hours."""
    depth = float(rng.uniform(0.3, 1.0)) if strong else float(rng.uniform(0.0, 0.15))
    at, stops = [start_s], [0.0]
    while at[-1] < start_s + 7200:
        wait, edge = float(rng.exponential(300)) + 20, float(rng.uniform(5, 60))
        level = -depth * float(rng.random())
        at += [at[-1] + wait, at[-1] + wait + edge]
        stops += [stops[-1], level]
    return Knots(np.array(at), np.array(stops))


@dataclass(frozen=True)
class View:
    """One framing: how it differs from the even landscape, and how the camera renders it.

    `grad_share` is the part of a grad's stops that the meter sees; `night_stops` a framing's lamps or moon.
    """

    offset: float
    shade: Knots
    rendering: float
    grad_share: float

    def ev100(self, sky: Sky, start_s: float, length_s: float) -> float:
        """Mean light over an exposure, as a meter that sees the whole framing would tell it."""
        t = start_s + length_s * (np.arange(12) + 0.5) / 12
        each = sky.ev100(t) + self.shade.at(t) + self.offset
        return float(np.log2(np.mean(np.exp2(each))))
