"""Strength of filters over simulated trips: how near the truth, and how often the stated range holds it.

    python benchmarks/strength.py [TRIPS] [PICTURED SCENES OF EACH FILTER AND CURVE]

First trips as numbers: exposures, times and picture differences with the errors that a real trip has. Then
scenes as pictures: invented landscapes through six cameras that are not ours, noise, JPEG coding, measured as
the audit measures them. The light drifts by up to 0.3 stop a minute in both.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from audit.demo.scene import LOOKS, paint
from audit.optics.response import GENERAL
from audit.pixels.pair import compare, err_stops
from audit.pixels.strength import MeasuredStrength, Sighting, pooled, strengths

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "pixels"))
import foreign

LABELS = (1.0, 2.0, 3.0, 6.0, 10.0)
DRIFT_STOPS = 0.3
"""A minute, at most."""
WANDER_STOPS = 0.05
SCENES = 5
METERED = 0.17


@dataclass(frozen=True)
class Light:
    """Log2 light of a scene over the minutes: a slope, and what wanders about it."""

    slope: float
    knots: NDArray[np.float64]

    def over(self, middle: float, minutes: float) -> float:
        """Mean light of an exposure, in stops."""
        at = np.linspace(middle - minutes / 2, middle + minutes / 2, 9)
        stops = self.slope * at + np.interp(at, np.arange(len(self.knots)), self.knots)
        return float(np.log2(np.mean(2.0**stops)))


@dataclass(frozen=True)
class Frame:
    """A frame of a scene as it truly was; `darker` is how much less light its picture got than metered."""

    sighting: Sighting
    darker: float


def light(rng: np.random.Generator, slope: float | None = None) -> Light:
    """Light that drifts by a slope drawn from the whole range, or by the one given."""
    drawn = float(rng.uniform(-DRIFT_STOPS, DRIFT_STOPS)) if slope is None else slope
    return Light(drawn, np.cumsum(rng.normal(0, WANDER_STOPS, 60)) * (slope is None))


def frames(rng: np.random.Generator, true: float, sky: Light, *, after: bool, count: int = 1) -> list[Frame]:
    """A bare frame, `count` with the filter, and a bare one after if asked for; pictures without error yet.

    The filter takes `true` stops; the exposure makes up for its label within a third of a stop or so.
    """
    bare_min = 2.0 ** rng.uniform(-9, -4) / 60 if true < 8 else 2.0 ** rng.uniform(-5, -3) / 60
    ev, aperture = 12.0, float(rng.normal(0, 0.05)) if rng.random() < 0.3 else 0.0
    stamped_at_end = rng.random() < 0.2
    less = round(3 * (true + rng.normal(0, 0.25))) / 3
    out, now = [], 5.0
    for index, worn in enumerate(["", *["x"] * count, *([""] if after else [])]):
        exposure = bare_min * (2.0**less if worn else 1.0)
        middle = now + exposure / 2
        hand = rng.normal(0, 0.25 / (60 * exposure) / np.log(2)) if exposure > 0.5 else 0.0
        exposed = ev - less * bool(worn) + hand + aperture * bool(worn)
        got = sky.over(middle, exposure) - exposed - true * bool(worn) + rng.normal(0, 0.005)
        err = 0.1 * bool(worn) * bool(aperture)
        err = float(np.hypot(err, 0.5 / (60 * exposure) / np.log(2))) if exposure > 0.5 else err
        told = middle + exposure * stamped_at_end
        seen = Sighting(str(index), told, exposure, ev - less * bool(worn), err, 0.0, 0.0, worn)
        out.append(Frame(seen, -(got + ev)))
        now = middle + exposure / 2 + (0.1 if worn else float(rng.uniform(0.5, 2.0)))
    return out


def seen(rng: np.random.Generator, scene: list[Frame], curve: float) -> list[Sighting]:
    """The frames with pictures measured as the stated ranges say; `curve` is the camera's own share."""
    out = []
    for frame in scene:
        step = scene[0].darker - frame.darker
        err = err_stops(float(step), GENERAL)
        if np.isnan(err):
            continue
        off = 0.8**0.5 * curve * np.clip(step / 0.25, -1, 1) + 0.2**0.5 * rng.normal()
        first = frame is scene[0]
        picture, err = (0.0, 0.0) if first else (float(step + off * err / 1.96), err)
        out.append(replace(frame.sighting, picture_stops=picture, picture_err_stops=err))
    return out


def pictured(
    rng: np.random.Generator, scene: list[Frame], curve: str, seed: int, base_stops: float
) -> list[Sighting]:
    """The frames photographed by a camera and compared; those that cannot be are left out."""
    look = sorted(LOOKS)[seed % len(LOOKS)]
    landscape = paint(look, seed, 480, 320, float(rng.uniform(6.5, 19.5)), 0.9)
    iso, quality = int(rng.choice([100, 200, 400])), int(rng.integers(85, 96))
    codes = []
    for index, frame in enumerate(scene):
        exposed = landscape * np.float32(METERED * 2.0 ** (base_stops - frame.darker + scene[0].darker))
        jpeg = foreign.photograph(exposed, curve, seed=100 * seed + index, iso=iso, quality=quality)
        codes.append(foreign.grey(jpeg))
    out = [replace(scene[0].sighting, picture_stops=0.0, picture_err_stops=0.0)]
    for frame, grey in zip(scene[1:], codes[1:], strict=True):
        pair = compare(codes[0], grey)
        if not pair.why:
            out.append(replace(frame.sighting, picture_stops=-pair.stops, picture_err_stops=pair.err_stops))
    return out


@dataclass(frozen=True)
class Score:
    """Errors of strengths in stops, and their stated ranges."""

    off: NDArray[np.float64]
    held: NDArray[np.float64]
    err: NDArray[np.float64]

    @property
    def bias(self) -> float:
        """Mean error."""
        return float(self.off.mean())

    @property
    def covered(self) -> float:
        """Share of errors within the range with changing light in it."""
        return float((np.abs(self.off) <= self.err).mean())

    def words(self) -> str:
        """One row of the table."""
        p50, p95 = np.quantile(np.abs(self.off), [0.5, 0.95])
        held = float((np.abs(self.off) <= self.held).mean())
        return (
            f"{len(self.off):5d} {self.bias:+.3f} ± {1.96 * self.off.std() / len(self.off) ** 0.5:.3f} "
            f"{p50:.2f}/{p95:.2f} {np.median(self.err):.2f} {self.covered:.3f} "
            f"{np.median(self.held):.2f} {held:.3f}"
        )


def score(found: list[tuple[MeasuredStrength, float]]) -> Score:
    """The score of (strength, truth); those not measured are left out."""
    told = [(one.stops - true, one.held_err_stops, one.err_stops) for one, true in found if not one.why]
    off, held, err = np.array(told).T
    return Score(off, held, err)


def trips(
    seed: int, count: int, label: float, *, after: bool | None = None, slope: float | None = None
) -> Iterator[tuple[list[MeasuredStrength], float]]:
    """Trips of SCENES scenes with one filter, which is off from its label: (each scene's strength, truth)."""
    rng = np.random.default_rng((seed, int(label)))
    for _ in range(count):
        true, curve = label + float(rng.normal(0, 0.25)), float(rng.normal())
        found = []
        for _ in range(SCENES):
            ends = bool(rng.random() < 0.5) if after is None else after
            signed = None if slope is None else slope * float(rng.choice([-1, 1]))
            scene = frames(rng, true, light(rng, signed), after=ends, count=int(rng.integers(1, 4)))
            found.append(strengths(seen(rng, scene, curve)).get("x"))
        yield [one for one in found if one is not None], true


def scenes_pictured(seed: int, count: int, label: float, curve: str) -> list[tuple[MeasuredStrength, float]]:
    """Scenes photographed by one camera with a filter: (strength, truth)."""
    rng = np.random.default_rng((seed, int(label), sorted(foreign.CURVES).index(curve)))
    found = []
    for _ in range(count):
        true = label + float(rng.normal(0, 0.25))
        scene = frames(rng, true, light(rng), after=bool(rng.random() < 0.5))
        told = pictured(rng, scene, curve, int(rng.integers(1_000_000)), float(rng.uniform(-0.5, 0.5)))
        found += [(one, true) for one in strengths(told).values()]
    return found


HEAD = "filter                n  bias            |error|   range covered  if held covered"


def print_trips(count: int) -> None:
    """Single scenes by what was photographed, then trips."""
    ways: dict[str, dict[str, bool | float | None]] = {
        "bare before": {"after": False},
        "before and after": {"after": True},
        "before, light held": {"after": False, "slope": 0.0},
        "before, drift at limit": {"after": False, "slope": DRIFT_STOPS},
        "both, drift at limit": {"after": True, "slope": DRIFT_STOPS},
    }
    for way, how in ways.items():
        print(f"\n{way}\n{HEAD}")
        for label in LABELS:
            found = [(one, true) for all_, true in trips(1, count // 5, label, **how) for one in all_]  # type: ignore[arg-type]
            print(f"{label:2.0f} stops        {score(found).words()}")
    print(f"\ntrips of {SCENES} scenes, pooled\n{HEAD}")
    for label in LABELS:
        print(
            f"{label:2.0f} stops        {score([(pooled(a), t) for a, t in trips(2, count, label)]).words()}"
        )


def print_pictured(count: int) -> None:
    """Through pictures: scenes of each filter, then trips of one camera and one filter."""
    print(f"\nthrough pictures, six curves\n{HEAD}")
    all_: list[tuple[MeasuredStrength, float]] = []
    for label in LABELS:
        found = [one for curve in foreign.CURVES for one in scenes_pictured(3, count, label, curve)]
        print(f"{label:2.0f} stops        {score(found).words()}  of {6 * count}")
        all_ += found
    print(f"all             {score(all_).words()}")
    for curve in foreign.CURVES:
        told = [one for label in LABELS for one in scenes_pictured(3, count, label, curve)]
        print(f"{curve:15s} {score(told).words()}")


if __name__ == "__main__":
    print_trips(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
    print_pictured(int(sys.argv[2]) if len(sys.argv) > 2 else 20)
