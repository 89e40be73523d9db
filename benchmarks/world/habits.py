"""How a photographer works: at the tripod, on the walk, with the second body."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from benchmarks.world.dial import LONGEST_S, iso_at_least, step_of
from benchmarks.world.kits import Bag, Glass, Rng
from benchmarks.world.light import View, draw_shade
from benchmarks.world.shooting import Mark, Setting, Shooter

WATCH_S = (5, 8, 10, 15, 20, 25, 30, 40, 45, 50, 60, 75, 90, 105, 120, 150, 180, 210, 240, 300, 360, 420, 480)
"""Times that are easy to see on a wrist watch."""
WISHES_S = {"surf": (0.2, 1.0), "silk": (0.8, 6.0), "long": (15.0, 60.0), "clouds": (60.0, 300.0)}


@dataclass(frozen=True)
class Style:
    """One photographer's habits, drawn once a trip."""

    bare_frame: float
    bare_after: float
    trial: float
    grads: float
    polariser: float
    meters_through_to: float
    rounding: str
    bulb: str
    manual_bare: float
    recompose: float
    again: float
    iso_trial: float
    snow_bias: float
    auto_iso: bool
    f_wish: float


def draw_style(rng: Rng) -> Style:
    """The habits of one photographer."""

    def between(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    return Style(
        bare_frame=between(0.3, 0.95),
        bare_after=between(0.0, 0.35),
        trial=between(0.1, 0.8),
        grads=between(0.2, 0.8),
        polariser=between(0.1, 0.5),
        meters_through_to=float(rng.choice([3.5, 6.5, 8.0])),
        rounding=str(rng.choice(["near", "up", "down"], p=[0.6, 0.3, 0.1])),
        bulb=str(rng.choice(["watch", "app", "timer"], p=[0.45, 0.35, 0.2])),
        manual_bare=between(0.1, 0.7),
        recompose=between(0.03, 0.15),
        again=between(0.2, 0.6),
        iso_trial=between(0.0, 0.15),
        snow_bias=0.0,
        auto_iso=False,
        f_wish=float(rng.choice([8, 8, 11, 11, 13])),
    )


def draw_view(rng: Rng, sky_kind: str, start_s: float, moving: float = 0.3) -> View:
    """A framing: towards the light or away from it, in shade or not."""
    strong = sky_kind != "overcast" and rng.random() < moving
    return View(
        offset=float(rng.normal(-0.3, 0.8)),
        shade=draw_shade(rng, start_s, strong),
        rendering=float(rng.normal(0, 0.3)),
        grad_share=float(rng.beta(2, 2.5)),
    )


def wished_filters(rng: Rng, bag: Bag, style: Style, bare_s: float, height_deg: float) -> tuple[Glass, ...]:
    """Neutrals that bring the bare time nearest to a wish, few before many; grads, polariser by habit."""
    worn: list[Glass] = []
    wish = str(rng.choice([*WISHES_S, "none"], p=[0.16, 0.28, 0.2, 0.24, 0.12]))
    if wish != "none":
        low, high = WISHES_S[wish]
        stops = math.log2(math.exp(rng.uniform(math.log(low), math.log(high))) / bare_s)
        fitting = [
            (abs(sum(g.label_stops for g in some) - stops) + 0.7 * (len(some) - 1), some)
            for count in (1, 2)
            for some in combinations(bag.neutrals, count)
        ]
        off, some = min(fitting, key=lambda pair: pair[0])
        if stops > 1.2 and off < 2.5:
            worn += some
    if bag.polariser and height_deg > 3 and rng.random() < style.polariser:
        worn.append(bag.polariser)
    if bag.grads and height_deg < 25 and rng.random() < style.grads and len(worn) < 3:
        worn.append(bag.grads[int(rng.integers(len(bag.grads)))])
    return tuple(worn)


def label_setting(shooter: Shooter, style: Style, read_ev: float, worn: Sequence[Glass], iso: int) -> Setting:
    """The long time by the label's arithmetic, as dial, app or watch lets it be set."""
    stops = sum(g.label_stops for g in worn if g.kind == "neutral")
    stops += 1.5 if any(g.kind == "polariser" for g in worn) and shooter.rng.random() < 0.8 else 0.0
    seconds = style.f_wish**2 / 2.0 ** (read_ev - stops) * 100 / iso
    return timed(shooter, style, seconds, iso)


def timed(shooter: Shooter, style: Style, seconds: float, iso: int) -> Setting:
    """A setting for a wished time; too long ones cost ISO or patience."""
    rng = shooter.rng
    while seconds > 600:
        seconds, iso = seconds / 2, iso * 2
    if seconds <= LONGEST_S * 1.15:
        return Setting(style.f_wish, iso, step_of(seconds, shooter.body.per_stop, style.rounding))
    if style.bulb == "watch":
        late = abs(float(rng.normal(0.6, 0.8))) + (float(rng.uniform(2, 12)) if rng.random() < 0.08 else 0.0)
        held = min(WATCH_S, key=lambda s: abs(math.log2(s / seconds))) + late
    elif style.bulb == "app":
        held = round(seconds) + float(rng.uniform(0, 0.6))
    else:
        held = LONGEST_S * 2 ** (round(3 * math.log2(seconds / LONGEST_S)) / 3)
    return Setting(style.f_wish, iso, None, bulb_s=held)


def shift_view(rng: Rng, view: View) -> View:
    """Recomposed: the metered light moves by half a stop to two."""
    by = float(rng.uniform(0.5, 2.0)) * (1 if rng.random() < 0.5 else -1)
    return replace(view, offset=view.offset + by, grad_share=float(np.clip(view.grad_share + 0.2 * by, 0, 1)))


def tripod(
    shooter: Shooter, style: Style, view: View, mark: Mark, worn: tuple[Glass, ...], first: bool
) -> View:
    """One setup or one more rig at it: bare, filters on, the long frames, perhaps bare again."""
    rng, body = shooter.rng, shooter.body
    iso = body.base_iso
    bias = style.snow_bias
    if first and mark.special != "ten only" and rng.random() < style.bare_frame:
        for _ in range(int(rng.integers(1, 4))):
            bare_frame(shooter, style, view, mark)
            shooter.now_s += float(rng.lognormal(math.log(20), 0.8))
            if rng.random() < style.recompose * 2:
                view = shift_view(rng, view)
    if not worn:
        return view
    read_ev = shooter.reading(view, [], 0.15) - bias
    shooter.now_s += float(rng.lognormal(math.log(45), 0.6))  # holder, filter, covers
    stops = sum(g.label_stops for g in worn)
    shooter.turn = float(rng.random())
    if stops <= style.meters_through_to and rng.random() < 0.85:
        view = through(shooter, style, view, mark, worn)
    else:
        view = by_hand(shooter, style, view, mark, worn, read_ev, iso)
    if mark.special != "ten only" and rng.random() < style.bare_after:
        shooter.now_s += float(rng.lognormal(math.log(30), 0.5))
        bare_frame(shooter, style, view, mark)
    return view


def bare_frame(shooter: Shooter, style: Style, view: View, mark: Mark) -> None:
    """Without filters: aperture priority, or manual by the meter's scale to a third."""
    rng, body = shooter.rng, shooter.body
    bias = style.snow_bias
    f_wish = style.f_wish if rng.random() < 0.8 else float(rng.choice([5.6, 8, 11, 16]))
    iso = tripod_iso(shooter, style, view, f_wish)
    set_to = shooter.metered(view, [], f_wish, iso, bias)
    if rng.random() < style.manual_bare:
        off = int(rng.choice([-1, 0, 0, 0, 1]))
        step = int(
            np.clip((set_to.step or 0) + off, -3 * body.per_stop * 4, step_of(LONGEST_S, body.per_stop))
        )
        set_to = replace(set_to, program="manual", bias=0.0, step=step)
    shooter.expose(view, [], set_to, mark)


def tripod_iso(shooter: Shooter, style: Style, view: View, f_wish: float) -> int:
    """Base ISO at the tripod, unless it is too dark for 30 s or left on automatic."""
    ev = shooter.reading(view, [])
    limit_s = 1 / 60 if style.auto_iso else LONGEST_S
    wish = 100 * f_wish**2 / 2.0**ev / limit_s
    return min(iso_for(shooter, wish), 12800)


def iso_for(shooter: Shooter, wish: float) -> int:
    """The next ISO step upwards."""
    return iso_at_least(wish, shooter.body.per_stop, shooter.body.base_iso)


def through(shooter: Shooter, style: Style, view: View, mark: Mark, worn: tuple[Glass, ...]) -> View:
    """Light filters: aperture priority through them, a few frames as the waves come."""
    rng = shooter.rng
    for _ in range(int(rng.integers(2, 7))):
        bias = style.snow_bias + (float(rng.choice([-2, -1, 1, 2])) / 3 if rng.random() < 0.2 else 0.0)
        if shooter.body.per_stop == 2:
            bias = round(bias * 2) / 2
        iso = min(
            iso_for(shooter, 100 * style.f_wish**2 / 2.0 ** shooter.reading(view, worn) / LONGEST_S), 3200
        )
        set_to = shooter.metered(view, worn, style.f_wish, iso, bias)
        shooter.expose(view, worn, set_to, mark)
        shooter.now_s += float(rng.lognormal(math.log(12), 0.9))
        if rng.random() < style.recompose:
            view = shift_view(rng, view)
    return view


def by_hand(
    shooter: Shooter, style: Style, view: View, mark: Mark, worn: tuple[Glass, ...], read_ev: float, iso: int
) -> View:
    """Dense filters: the time by the label, mended after a look at the picture."""
    rng = shooter.rng
    set_to = label_setting(shooter, style, read_ev, worn, iso)
    if rng.random() < style.iso_trial and set_to.step is None:
        quick = timed(shooter, style, set_to.bulb_s / 16, iso * 16)
        shooter.expose(view, worn, quick, mark)
        shooter.now_s += float(rng.uniform(8, 40))
    frames = 1 + int(rng.random() < style.trial) + int(rng.geometric(1 - style.again)) - 1
    for taken in range(min(frames + 1, 6)):
        bright = shooter.expose(view, worn, set_to, mark)
        shooter.now_s += float(rng.lognormal(math.log(25), 0.8))
        off = bright - style.snow_bias + float(rng.normal(0, 0.25))
        if abs(off) > 0.45 or (taken and rng.random() < 0.1):
            seconds = set_to.bulb_s if set_to.step is None else 2.0 ** (set_to.step / shooter.body.per_stop)
            set_to = timed(shooter, style, seconds * 2.0 ** -(round(3 * off) / 3), set_to.iso)
        elif taken + 1 >= frames:
            break
        if rng.random() < style.recompose / 2:
            view = shift_view(rng, view)
    return view


def walk(
    shooter: Shooter, style: Style, worn: tuple[Glass, ...], setup: int, frames: int, special: str
) -> int:
    """Hand held on the way, other focal lengths, new framings; says the next setup's number."""
    rng = shooter.rng
    mark, view = Mark(setup, special=special), draw_view(rng, shooter.sky.kind, shooter.now_s, 0.5)
    for taken in range(frames):
        if taken == 0 or rng.random() < 0.6:
            view = draw_view(rng, shooter.sky.kind, shooter.now_s, 0.5)
            new_focal(shooter, 0.6)
            setup += 1
            mark = Mark(setup, special=special)
        handheld(shooter, style, view, mark, worn)
        shooter.now_s += float(rng.lognormal(math.log(40), 1.2))
    return setup + 1


def handheld(
    shooter: Shooter, style: Style, view: View, mark: Mark, worn: Sequence[Glass], flash: bool = False
) -> None:
    """Aperture priority, wide open enough and with ISO enough for a steady hand."""
    rng, per_stop = shooter.rng, shooter.body.per_stop
    f_wish = float(rng.choice([4, 5.6, 5.6, 8]))
    ev = shooter.reading(view, worn)
    longest = 1 / max(shooter.focal_mm, 30) if style.auto_iso or rng.random() < 0.7 else 1 / 15
    iso = min(iso_for(shooter, 100 * f_wish**2 / 2.0**ev / longest), 6400)
    if not style.auto_iso and iso > shooter.body.base_iso:  # turned by hand, in whole stops
        iso = 100 * 2 ** math.ceil(math.log2(iso / 100))
    if flash:
        step = step_of(1 / 60 if ev < 9 else 1 / 200, per_stop)
        shooter.expose(view, worn, Setting(f_wish, min(iso, 400), step, program="manual"), mark, flash=True)
        return
    bias = style.snow_bias if rng.random() < 0.85 else float(rng.choice([-1, -0.5, 0.5, 1]))
    if per_stop == 3:
        bias = round(3 * bias) / 3
    shooter.expose(view, worn, shooter.metered(view, worn, f_wish, iso, bias), mark)


def new_focal(shooter: Shooter, other_lens: float = 0.3) -> None:
    """Another lens perhaps, another focal length, upright or not."""
    rng = shooter.rng
    if rng.random() < other_lens:
        shooter.lens = shooter.bag.lenses[int(rng.choice(3, p=[0.45, 0.35, 0.2]))]
    low, high = shooter.lens.focal_mm
    ends = [low, low, int(rng.integers(low, high + 1)), int(rng.integers(low, high + 1)), high]
    shooter.focal_mm = int(rng.choice(ends))
    shooter.upright = bool(rng.random() < 0.25)
