"""What a plan is written in: releases of the shutter, and the scenes they belong to."""

from __future__ import annotations

from dataclasses import dataclass, replace

from audit.demo.gear import Rig


@dataclass(frozen=True)
class Take:
    """One release of the shutter, or three for a bracket.

    `on` is the rig really worn, `says` the declared one. `tags` name entries of `story`. `shutter_s` sets the
    time by hand; otherwise the camera meters through the filters. `odd` is a fault of the file, or what else
    is odd about it. `iso` and `f_number` stand in for the scene's, `light_stops` comes to its light.
    """

    at: str
    on: Rig
    says: Rig
    tags: tuple[str, ...] = ()
    shutter_s: float | None = None
    bias_stops: float = 0.0
    bracket: int = 0
    sub_second: int = -1
    odd: str = ""
    gap_before: int = 0
    iso: int = 0
    f_number: float = 0.0
    light_stops: float = 0.0


@dataclass(frozen=True)
class Scene:
    """One composition: where, when, with what. `light_stops` is added to the light of the hour.

    `reduced`: the camera was set to store so many times fewer columns and rows than it has. `enlarged`: how
    many times as wide and high as the others its pictures are where all are stored small.
    """

    day: int
    body: str
    lens: str
    focal_mm: float
    f_number: float
    iso: int
    look: str
    seed: int
    takes: tuple[Take, ...]
    light_stops: float = 0.0
    upright: bool = False
    raw: bool = False
    enlarged: int = 1
    reduced: int = 1


def take(
    at: str,
    on: Rig,
    *tags: str,
    says: Rig | None = None,
    shutter_s: float | None = None,
    bias: float = 0.0,
    sub_second: int = -1,
    odd: str = "",
    gap: int = 0,
    iso: int = 0,
    f_number: float = 0.0,
    light: float = 0.0,
) -> Take:
    """One frame; declared as it was unless `says` differs."""
    return Take(at, on, says or on, tags, shutter_s, bias, 0, sub_second, odd, gap, iso, f_number, light)


def bracket(at: str, on: Rig, *tags: str) -> tuple[Take, ...]:
    """Three frames a second apart: middle, two stops under, two over."""
    minute, second = at[:5], int(at[6:])
    one = Take(f"{minute}:{second:02d}", on, on, tags, bracket=1)
    under = replace(one, at=f"{minute}:{second + 1:02d}", bias_stops=-2.0, bracket=2)
    return one, under, replace(one, at=f"{minute}:{second + 2:02d}", bias_stops=2.0, bracket=3)
