"""An invented photographer at one setup: what he wears, how he exposes, what he gets wrong."""

from dataclasses import dataclass, field
from math import log2

import numpy as np

NICE_S = (45, 60, 75, 90, 120, 150, 180, 210, 240, 300, 360, 420, 480, 600, 720)


@dataclass(frozen=True)
class Habits:
    """What the estimate does not know. `metering` is the standard deviation of one reading, stops."""

    metering: float = 0.35
    faster: float = 1.0
    forgets_sum: float = 0.008
    leaves_on: float = 0.05


@dataclass
class Shot:
    """One frame as it was taken, with its truth."""

    minute: float
    time_s: float
    f_number: float
    iso: float
    bias: float
    program: str
    auto_bracket: bool
    worn: tuple
    kind: str
    rendered: float
    light: float = 0.0


@dataclass
class Setup:
    """One tripod position; `offset` is its subject against the open landscape, as the meter sees it."""

    rng: np.random.Generator
    weather: object
    kit: object
    true: dict
    habits: Habits
    minute: float
    worn: tuple
    anchor: float
    shots: list = field(default_factory=list)

    def __post_init__(self):
        rng = self.rng
        self.items = {f.id: f for f in self.kit.filters}
        self.offset = rng.normal(-0.9, 1.1)
        self.pol_stops = rng.uniform(1, 2)
        self.grad_share = rng.uniform(0.05, 0.6)
        self.f_number = float(rng.choice([5.6, 8, 9, 11, 11, 13, 16]))
        self.base_iso = float(rng.choice([64, 100, 100, 100, 200]))
        self.bias = float(
            rng.choice([0, -1 / 3, -2 / 3, 1 / 3, 2 / 3, 1, -1], p=[0.6, 0.1, 0.1, 0.08, 0.06, 0.03, 0.03])
        )
        self.manual = rng.random() < 0.3
        self.held = None
        self.forgot = 0.0

    def loss(self, ids, true=True):
        """Stops of the even filters, and what the meter loses to a grad."""
        total = 0.0
        for i in ids:
            item = self.items[i]
            if item.kind == "polariser":
                total += self.pol_stops if true else 1.5
            elif item.is_grad:
                total += self.grad_share * item.loss_stops[0] if true else 0.0
            else:
                total += self.true[i] if true else item.loss_stops[0]
        return total

    def light(self, minutes_long=0.0):
        """EV100 of the subject over an exposure that starts now: log2 of the mean luminance."""
        at = self.minute + np.linspace(0, minutes_long, 5 if minutes_long > 0.2 else 1)
        level = [self.weather.ev100(m, self.anchor) + self.offset for m in at]
        return float(min(np.log2(np.mean(np.exp2(level))), 16.6))

    def reading(self):
        """What the meter says through whatever is worn."""
        heavy = 2.5 if self.rng.random() < 0.05 else 1.0
        return self.light() - self.loss(self.worn) + self.rng.normal(0, self.habits.metering) * heavy

    def wait(self, low_s, high_s):
        """Time passes."""
        self.minute += self.rng.uniform(low_s, high_s) / 60

    def change(self, ids):
        """Puts on and takes off; takes time by the number of filters."""
        moves = len(set(ids) ^ set(self.worn))
        if not moves:
            return
        self.wait(8 * moves, 60 * moves)
        if self.manual and self.rng.random() < self.habits.forgets_sum:
            self.forgot = self.loss(ids, true=False) - self.loss(self.worn, true=False)
        elif self.rng.random() < 0.7:
            self.forgot, self.held = 0.0, None
        self.worn = tuple(ids)

    def settings(self, ev, *, handheld=False):
        """(time_s, f, iso, by hand) for an exposure value of the light that comes through."""
        f, iso = self.f_number, self.base_iso
        time_s = f * f / 2**ev * 100 / iso
        longest = 1 / 60 if handheld else (600 if self.strong() else 25)
        while time_s > longest and iso < 6400:
            iso, time_s = iso * 2, time_s / 2
        if time_s > 30:
            nice = min(NICE_S, key=lambda s: abs(log2(s / time_s)))
            return float(nice if self.rng.random() < 0.8 else round(time_s)), f, iso, True
        thirds = round(3 * log2(time_s))
        return 2 ** (max(thirds, -39) / 3), f, iso, False

    def strong(self):
        """Whether the filters make long exposures."""
        return self.loss(self.worn, true=False) >= 4

    def quick(self):
        """Whether a bracket takes seconds, not minutes."""
        return self.f_number**2 / 2 ** (self.light() - self.loss(self.worn)) * 100 / self.base_iso < 8

    def sensible(self, ids):
        """Whether a set of filters leaves exposures of minutes, not hours."""
        return self.f_number**2 / 2 ** (self.light() - self.loss(ids, true=False)) * 100 / self.base_iso < 500

    def frame(self, kind="frame", *, handheld=False, stops=0.0, auto=False, ev=None, iso=None):
        """Takes one frame; `stops` more exposure than metered, `ev` a level already read."""
        level = self.reading() if ev is None else ev
        manual = self.manual and kind != "handheld"
        if manual:
            level = self._by_hand(level)
        bias = 0.0 if manual else self.bias
        time_s, f, speed, bulb = self.settings(level - bias - stops, handheld=handheld)
        if iso is not None:
            time_s, speed = time_s * speed / iso, iso
            bulb = time_s > 30
            time_s = 2 ** (round(3 * log2(time_s)) / 3)
        if bulb and not manual:
            time_s, bias = self._by_arithmetic(time_s), 0.0
        self._keep(kind, time_s, f, speed, bias, "manual" if manual or bulb else "aperture priority", auto)

    def _by_hand(self, level):
        """The setting of the last frame is kept while it looks right; a forgotten filter stays in it."""
        if self.held is None or abs(self.held - level) > 1.0 + abs(self.forgot):
            self.held = level + self.forgot + self.rng.normal(0, 0.3)
        return self.held

    def _by_arithmetic(self, time_s):
        """A bulb time from the reading without filters: the label's stops, not the true ones."""
        off = self.loss(self.worn) - self.loss(self.worn, true=False)
        time_s *= 2 ** (-off + self.rng.normal(0, 0.25))
        return float(min(NICE_S, key=lambda s: abs(log2(s / time_s)))) if time_s > 35 else 30.0

    def _keep(self, kind, time_s, f, iso, bias, program, auto):
        light = self.light(time_s / 60)
        got = light - self.loss(self.worn) - log2(f * f / time_s) + log2(iso / 100)
        rendered = float(np.clip(got + self.rng.normal(0, 0.2), -6, 2.3))
        self.shots.append(
            Shot(self.minute, time_s, f, iso, bias, program, auto, self.worn, kind, rendered, light)
        )
        self.minute += time_s / 60

    def bracket(self):
        """Three, five or seven frames in a burst, by the camera or by hand."""
        count = int(self.rng.choice([3, 5, 7], p=[0.7, 0.2, 0.1]))
        step = float(self.rng.choice([1, 2, 0.67]))
        level = self.reading()
        auto = self.rng.random() < 0.8
        held, self.held = self.held, level if self.manual else None
        for k in range(count):
            order = (k + 1) // 2 * (1 if k % 2 else -1)
            self.frame("bracket", stops=order * step, auto=auto, ev=level)
            self.wait(0.3, 1.2)
        self.held = held

    def trial(self):
        """A trial at high ISO through the filter before a long exposure."""
        self.frame("trial", iso=float(self.rng.choice([3200, 6400])))
        self.wait(4, 20)
