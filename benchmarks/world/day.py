"""One day out: where the sun stands when, the setups, the walks between them."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import numpy as np

from benchmarks.world import sequences
from benchmarks.world.habits import (
    Style,
    draw_style,
    draw_view,
    handheld,
    new_focal,
    tripod,
    walk,
    wished_filters,
)
from benchmarks.world.kits import KITS, Bag, Glass, Rng, draw_bag
from benchmarks.world.light import View, draw_sky
from benchmarks.world.shooting import Mark, Shooter

KINDS = {
    "ordinary": 0.28,
    "dawn": 0.14,
    "snow": 0.08,
    "two bodies": 0.1,
    "left on": 0.08,
    "no filters": 0.1,
    "ten only": 0.05,
    "stars": 0.04,
    "flash": 0.03,
    "auto iso": 0.05,
    "brackets": 0.05,
}
"""Kinds of trips and how often each is drawn for "any"."""


DARK_EV100 = 0.5
"""Below this the bare exposure is a long one and nobody puts a filter on."""


@dataclass
class Day:
    """The trip while it is being shot."""

    rng: Rng
    kind: str
    bag: Bag
    style: Style
    main: Shooter
    other: Shooter | None
    setup: int = 0
    set_id: int = 0
    place: tuple[float, float] = (0.0, 0.0)
    sessions: list[tuple[float, str]] = field(default_factory=list)

    @property
    def special(self) -> str:
        """What is true of every frame of the trip."""
        return self.kind if self.kind in ("no filters", "ten only", "auto iso", "snow") else "none"

    def mark(self) -> Mark:
        """For the present setup."""
        return Mark(self.setup, special=self.special)

    def moved(self, metres: float) -> None:
        """To another place."""
        north, east = (float(x) for x in self.rng.normal(0, metres / 111_000, size=2))
        self.place = (self.place[0] + north, self.place[1] + east)
        self.main.place = self.place


def shoot(seed: int, kind: str) -> Day:
    """The whole day."""
    rng = np.random.default_rng([seed, 2718])
    if kind == "any":
        kind = str(rng.choice(list(KINDS), p=list(KINDS.values())))
    day = _morning(rng, kind)
    for start_s, part in day.sessions:
        day.main.now_s = max(start_s, day.main.now_s + 600)
        if part == "stars":
            _star_session(day)
        elif part == "flash":
            _flash_session(day)
        else:
            _session(day)
    return day


def _morning(rng: Rng, kind: str) -> Day:
    kits = [k for k in KITS if not (kind in ("ten only", "left on") and k == "one")]
    bag = draw_bag(rng, str(rng.choice(kits)), kind == "two bodies" or rng.random() < 0.06)
    style = draw_style(rng)
    if kind == "snow":
        style = replace(style, snow_bias=float(rng.choice([1, 1, 1.5])))
    style = replace(style, auto_iso=kind == "auto iso")
    sky = draw_sky(
        rng, date(2026, 1, 1) + timedelta(days=int(rng.integers(365))), bag.latitude_deg, bag.longitude_deg
    )
    place = (bag.latitude_deg, bag.longitude_deg)
    shooters = [
        Shooter(
            rng, bag, body, sky, 0.0, lens, lens.focal_mm[0], counter=int(rng.integers(1, 7000)), place=place
        )
        for body, lens in zip(bag.bodies, bag.lenses, strict=False)
    ]
    day = Day(rng, kind, bag, style, shooters[0], shooters[1] if len(shooters) > 1 else None, place=place)
    day.sessions = _sessions(day)
    return day


def _sessions(day: Day) -> list[tuple[float, str]]:
    """Starts of the day's parts, UTC seconds: by the sun's height in the morning, at noon, in the evening."""
    rng = day.rng
    midnight = -day.bag.longitude_deg / 360 * 86_400  # true solar midnight at the place
    parts = {
        "dawn": [("morning", -6.0), ("morning", 4.0), ("evening", 3.0)],
        "stars": [("evening", 4.0), ("evening", -16.0)],
        "flash": [("morning", 10.0), ("evening", 8.0), ("evening", -3.0)],
    }.get(day.kind)
    if parts is None:
        all_parts = [
            ("morning", -5.0),
            ("morning", 12.0),
            ("morning", 40.0),
            ("evening", 20.0),
            ("evening", 5.0),
        ]
        chosen = sorted(rng.choice(5, size=int(rng.integers(2, 4)), replace=False).tolist())
        parts = [all_parts[i] for i in chosen]
    found = []
    for half, height in parts:
        begin = midnight + (0 if half == "morning" else 43_200)
        t = begin + np.arange(0, 43_200, 60.0)
        at = float(t[int(np.argmin(np.abs(day.main.sky.height_deg(t) - height - rng.normal(0, 1.5))))])
        name = "stars" if height == -16.0 else "flash" if day.kind == "flash" and height < 9 else "filters"
        found.append((at, name))
    return sorted(found)


def _session(day: Day) -> None:
    """A walk in, some setups at one place or two, a walk out; it ends when night falls."""
    rng, style = day.rng, day.style
    day.moved(2000)
    if (
        rng.random() < 0.5
        and day.kind != "ten only"
        and float(day.main.sky.ev100(np.array([day.main.now_s]))[0]) > 3
    ):
        _walk(day, int(rng.integers(2, 7)))
    for place in range(int(rng.integers(1, 3))):
        if place:
            day.moved(400)
            day.main.now_s += float(rng.lognormal(math.log(900), 0.5))
        for _ in range(int(rng.integers(2, 6))):
            if day.main.sky.ev100(np.array([day.main.now_s]))[0] < DARK_EV100:
                return
            _setup(day)
            day.main.now_s += float(rng.lognormal(math.log(240), 0.7))
    if rng.random() < 0.3 and day.kind != "ten only":
        _walk(day, int(rng.integers(2, 6)))
    if day.kind == "flash" and style.grads > 0.5:
        _flash_session(day, 2)


def _walk(day: Day, frames: int) -> None:
    """Between places; on some days with a filter left on."""
    worn: tuple[Glass, ...] = ()
    special = day.special
    if day.kind == "left on" or (day.kind not in ("no filters",) and day.rng.random() < 0.04):
        light = [g for g in day.bag.neutrals if g.label_stops <= 6]
        if day.bag.polariser and day.rng.random() < 0.3:
            light = [day.bag.polariser]
        weights = np.array([1.0 / g.label_stops for g in light])
        if light:
            worn = (light[int(day.rng.choice(len(light), p=weights / weights.sum()))],)
            special, frames = "left on", frames + 3
    day.setup = walk(day.main, day.style, worn, day.setup, frames, special)


def _setup(day: Day) -> None:
    """One framing on the tripod, and what the other body sees meanwhile."""
    rng, main = day.rng, day.main
    new_focal(main)
    day.moved(15)
    view = draw_view(rng, main.sky.kind, main.now_s)
    began = main.now_s
    many = 0.7 if day.kind == "brackets" else 0.28
    if day.kind != "ten only" and rng.random() < many:
        _set(day, view)
    else:
        _rigs(day, view)
    if day.other is not None:
        day.setup += 1
        day.other.now_s = max(day.other.now_s, began + float(rng.uniform(5, 60)))
        day.other.place = day.place
        beside = replace(
            view, offset=view.offset + float(rng.normal(0, 0.5)), rendering=float(rng.normal(0, 0.3))
        )
        sequences.second_body(day.other, day.style, beside, day.setup, main.now_s + 60)
    day.setup += 1


def _rigs(day: Day, view: View) -> None:
    """Bare and with filters; sometimes a second rig before the tripod is taken up."""
    rng, main = day.rng, day.main
    for rig in range(1 + int(rng.random() < 0.25)):
        worn = _worn(day, view)
        if rig == 0 and not worn and day.kind != "ten only":
            handheld_or_bare(day, view)
            continue
        view = tripod(main, day.style, view, day.mark(), worn, rig == 0)
        main.now_s += float(rng.uniform(20, 120))


def handheld_or_bare(day: Day, view: View) -> None:
    """A setup for which no filter was wanted."""
    always = replace(day.style, bare_frame=1.0)
    tripod(day.main, always, view, day.mark(), (), True)
    if day.rng.random() < 0.2:
        handheld(day.main, day.style, view, day.mark(), ())


def _worn(day: Day, view: View) -> tuple[Glass, ...]:
    if day.kind == "no filters":
        return ()
    if day.kind == "ten only":
        return tuple(g for g in day.bag.neutrals if g.id == "n10")
    bare_s = day.style.f_wish**2 / 2.0 ** day.main.reading(view, []) * 100 / day.main.body.base_iso
    height = float(day.main.sky.height_deg(np.array([day.main.now_s]))[0])
    return wished_filters(day.rng, day.bag, day.style, bare_s, height)


def _set(day: Day, view: View) -> None:
    """A bracket or a panorama, sometimes through light filters."""
    rng, main = day.rng, day.main
    worn: tuple[Glass, ...] = ()
    light = [g for g in day.bag.glasses if g.label_stops <= 3]
    if light and day.kind != "no filters" and rng.random() < 0.25 and main.reading(view, []) > 6:
        worn = (light[int(rng.integers(len(light)))],)
    kind = str(rng.choice(["bracket by camera", "bracket by hand", "panorama"], p=[0.4, 0.35, 0.25]))
    mark = day.mark()
    if rng.random() < 0.4:
        tripod(main, day.style, view, mark, (), True)
        main.now_s += 25
    day.set_id += 1
    mark = replace(mark, set_kind=kind, set_id=day.set_id)
    shot = {
        "bracket by camera": sequences.camera_bracket,
        "bracket by hand": sequences.hand_bracket,
        "panorama": sequences.panorama,
    }[kind]
    shot(main, day.style, view, mark, worn)


def _star_session(day: Day) -> None:
    day.moved(500)
    for _ in range(int(day.rng.integers(2, 5))):
        new_focal(day.main, 0.5)
        day.set_id += 1
        sequences.stars(day.main, draw_view(day.rng, "clear", day.main.now_s, 0.0), day.setup, day.set_id)
        day.setup += 1
        day.main.now_s += float(day.rng.uniform(60, 900))


def _flash_session(day: Day, frames: int = 0) -> None:
    """Things near by, lit by the flash: by hand, or a foreground at the tripod with the light kept darker."""
    rng, main = day.rng, day.main
    for _ in range(frames or int(rng.integers(6, 14))):
        new_focal(main, 0.4)
        view, mark = draw_view(rng, main.sky.kind, main.now_s, 0.5), Mark(day.setup, special="flash")
        if rng.random() < 0.4:
            sequences.lit_foreground(main, day.style, view, mark)
        else:
            handheld(main, day.style, view, mark, (), flash=True)
        day.setup += 1
        main.now_s += float(rng.lognormal(math.log(45), 0.8))
