"""Sets of frames: brackets by the camera and by hand, panoramas, star series, the second body's frames."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from benchmarks.world.dial import LONGEST_S, iso_at_least, step_of
from benchmarks.world.habits import Style, handheld, new_focal, tripod_iso
from benchmarks.world.kits import Glass
from benchmarks.world.light import View
from benchmarks.world.shooting import Mark, Setting, Shooter

SETS = ("bracket by camera", "bracket by hand", "panorama", "stars")


def offsets(rng: np.random.Generator, frames: int, step: float, order: str) -> list[float]:
    """Offsets of a bracket about the normal exposure, stops, in the order in which they are taken."""
    low = -(frames // 2) * step
    rising = [low + i * step for i in range(frames)]
    if order == "up":
        return rising
    if order == "down":
        return rising[::-1]
    return sorted(rising, key=lambda x: (abs(x), x > 0))


def camera_bracket(shooter: Shooter, style: Style, view: View, mark: Mark, worn: Sequence[Glass]) -> None:
    """The camera's own bracket: 3, 5, 7 or 9 frames within seconds; the bias says so where it is written."""
    rng, body = shooter.rng, shooter.body
    step = float(rng.choice([1 / 3, 2 / 3, 1, 1, 2], p=[0.1, 0.15, 0.3, 0.2, 0.25]))
    if body.per_stop == 2:
        step = float(rng.choice([0.5, 1, 2]))
    count = int(rng.choice([3, 5, 7, 9] if step <= 1 else [3, 3, 5], p=None))
    middle = _middle(shooter, style, view, worn, (count // 2) * step)
    order = str(rng.choice(["middle", "up"]))
    for off in offsets(rng, count, step, order):
        at = step_of(2.0 ** ((middle.step or 0) / body.per_stop + off), body.per_stop)
        bias = style.snow_bias + off
        shooter.expose(view, worn, replace(middle, step=at, bias=bias), mark, mode="auto bracket")
    shooter.now_s += float(rng.uniform(5, 30))


def hand_bracket(shooter: Shooter, style: Style, view: View, mark: Mark, worn: Sequence[Glass]) -> None:
    """Turned by hand: by the time in manual, or by the compensation; sometimes one frame twice."""
    rng, body = shooter.rng, shooter.body
    steps = [1 / 3, 2 / 3, 1, 1, 1, 2] if body.per_stop == 3 else [0.5, 1, 1, 2]
    by_bias, fine = rng.random() < 0.3, rng.random() < 0.15
    step = 0.2 if by_bias and fine else float(rng.choice(steps))
    count = int(rng.choice([3, 4, 5, 6, 7, 9, 11, 13], p=[0.3, 0.1, 0.22, 0.08, 0.12, 0.08, 0.06, 0.04]))
    while count * step > 11:
        count -= 2
    by_bias = by_bias and count * step <= 7  # compensation ends at 3 stops or so
    middle = _middle(shooter, style, view, worn, (count // 2) * step)
    wanted = offsets(rng, max(count, 3), step, str(rng.choice(["up", "down", "middle"])))
    if rng.random() < 0.2:
        wanted.insert(int(rng.integers(1, len(wanted))), wanted[0])
    for off in wanted:
        exact = (middle.step or 0) / body.per_stop + off
        at = step_of(2.0 ** min(exact, math.log2(LONGEST_S)), body.per_stop)
        if by_bias:
            set_to = _fine(shooter, middle, exact, at, step, off)
        else:
            set_to = replace(middle, step=at, program="manual", bias=0.0)
        shooter.expose(view, worn, set_to, mark)
        shooter.now_s += float(rng.lognormal(math.log(5), 0.6))


def _middle(shooter: Shooter, style: Style, view: View, worn: Sequence[Glass], above: float) -> Setting:
    """The middle of a bracket, at an ISO that leaves room for the longest time below 30 s."""
    body = shooter.body
    iso = tripod_iso(shooter, style, view, style.f_wish)
    middle = shooter.metered(view, worn, style.f_wish, iso, 0.0)
    longest = step_of(LONGEST_S / 2.0**above, body.per_stop, "down")
    while (middle.step or 0) > longest and iso < 12800:
        iso = iso_at_least(iso * 1.3, body.per_stop, body.base_iso)
        middle = shooter.metered(view, worn, style.f_wish, iso, 0.0)
    return middle


def _fine(shooter: Shooter, middle: Setting, exact: float, at: int, step: float, off: float) -> Setting:
    """By compensation; fifths of a stop leave the dial's series, and the body writes the time it took."""
    if step != 0.2:
        return replace(middle, step=at, bias=off)
    return replace(middle, step=None, bulb_s=2.0**exact, bias=off)


def panorama(shooter: Shooter, style: Style, view: View, mark: Mark, worn: Sequence[Glass]) -> None:
    """One manual exposure, the camera turned on between the frames."""
    rng = shooter.rng
    set_to = shooter.metered(view, worn, style.f_wish, tripod_iso(shooter, style, view, style.f_wish), 0.0)
    set_to = replace(set_to, program="manual")
    for _ in range(int(rng.integers(3, 9))):
        shooter.expose(view, worn, set_to, mark)
        view = replace(view, offset=view.offset + float(rng.normal(0, 0.3)))
        shooter.now_s += float(rng.uniform(2, 9))


def stars(shooter: Shooter, view: View, setup: int, set_id: int) -> None:
    """A trial or two, then one exposure again and again; nothing is metered."""
    rng = shooter.rng
    mark = Mark(setup, special="stars")
    f_wish = max(shooter.lens.widest_f, 2.8)
    iso = shooter.body.base_iso * int(rng.choice([16, 32, 64]))
    step = step_of(float(rng.choice([10, 15, 20, 25, 30])), shooter.body.per_stop)
    if rng.random() < 0.7:
        shooter.expose(view, [], Setting(f_wish, iso * 4, step_of(4.0, shooter.body.per_stop)), mark)
        shooter.now_s += float(rng.uniform(10, 60))
    mark = replace(mark, set_kind="stars", set_id=set_id)
    for _ in range(int(rng.integers(4, 13))):
        shooter.expose(view, [], Setting(f_wish, iso, step), mark)
        shooter.now_s += float(rng.uniform(0.5, 5))


def lit_foreground(shooter: Shooter, style: Style, view: View, mark: Mark) -> None:
    """One frame as it is, then the foreground lit by the flash and the rest held darker."""
    rng = shooter.rng
    iso = tripod_iso(shooter, style, view, style.f_wish)
    shooter.expose(view, (), shooter.metered(view, (), style.f_wish, iso, 0.0), replace(mark, special="none"))
    for _ in range(int(rng.integers(1, 4))):
        shooter.now_s += float(rng.uniform(10, 60))
        set_to = shooter.metered(view, (), style.f_wish, iso, -float(rng.choice([0.0, 0.5, 1.0])))
        shooter.expose(view, (), set_to, mark, flash=True)


def second_body(shooter: Shooter, style: Style, view: View, setup: int, until_s: float) -> None:
    """Frames of the other body while the first is busy: nearly always bare, its polariser now and then."""
    rng = shooter.rng
    worn: tuple[Glass, ...] = ()
    mark = Mark(setup)
    new_focal(shooter)
    for _ in range(int(rng.integers(1, 6))):
        if shooter.now_s > until_s:
            return
        if rng.random() < 0.3:
            view = replace(view, offset=view.offset + float(rng.normal(0, 0.6)))
        handheld(shooter, style, view, mark, worn)
        shooter.now_s += float(rng.lognormal(math.log(30), 1.0))
