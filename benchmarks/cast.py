"""Colour casts: how often a pair without any filter is flagged, and how often a warm filter is found.

    python benchmarks/cast.py [PAIRS OF EACH CURVE]

Invented landscapes through six cameras that are not ours, with noise and JPEG coding; between the two
pictures two minutes pass, the water smooths, and the exposure differs by up to half a stop.
"""

from __future__ import annotations

import io
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from audit.demo.scene import LOOKS, paint
from audit.optics.arrays import Floats
from audit.pixels.cast import LEAST_UV, Cast, colour_cast
from audit.pixels.pair import compare
from audit.pixels.sketch import COLOUR_CELL_PX, LONGEST_SIDE_PX, Sketch

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "pixels"))
import foreign

METERED = 0.17
BETWEEN_HOURS = 2 / 60
XYZ_OF_SRGB = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
"""IEC 61966-2-1."""


def filter_of(mired_shift: float) -> Floats:
    """Share of linear red, green, blue that a filter passes which turns D65 into daylight so much warmer."""
    both = [np.linalg.solve(XYZ_OF_SRGB, _daylight(1e6 / 6504 + m)) for m in (0.0, mired_shift)]
    passed = both[1] / both[0]
    return np.asarray(passed / passed.max())


def true_uv(passed: Floats) -> float:
    """How far the filter moves a grey in u'v' (CIE 1976)."""
    xyz = XYZ_OF_SRGB @ np.stack([np.ones(3), passed], axis=1)
    uv = np.stack([4 * xyz[0], 9 * xyz[1]]) / (np.array([1.0, 15.0, 3.0]) @ xyz)
    return float(np.hypot(*(uv[:, 1] - uv[:, 0])))


def _daylight(mired: float) -> Floats:
    t = 1e6 / mired
    low = -4.6070e9 / t**3 + 2.9678e6 / t**2 + 0.09911e3 / t + 0.244063
    x = low if t <= 7000 else -2.0064e9 / t**3 + 1.9018e6 / t**2 + 0.24748e3 / t + 0.237040
    y = -3 * x**2 + 2.87 * x - 0.275
    return np.array([x / y, 1.0, (1 - x - y) / y])


def sketch(jpeg: bytes) -> Sketch:
    """A small picture as the audit makes it."""
    picture = Image.open(io.BytesIO(jpeg)).convert("RGB")
    scale = max(picture.size) / LONGEST_SIDE_PX
    small = picture.resize(
        (round(picture.width / scale), round(picture.height / scale)), Image.Resampling.BOX
    )
    codes, cell = np.asarray(small), COLOUR_CELL_PX
    rows, columns = (n // cell for n in codes.shape[:2])
    cells = codes[: rows * cell, : columns * cell].reshape(rows, cell, columns, cell, 3)
    colour = np.round(cells.mean(axis=(1, 3))).astype(np.uint8)
    none = np.zeros((3, 3))
    return Sketch(foreign.grey(jpeg), colour, none, none, "embedded preview", *small.size, False)


def pair(seed: int, curve: str, passed: Floats, most_stops: float = 0.5) -> Cast:
    """The cast of one pair; `passed` is the filter's share of each channel, made up for in the exposure."""
    rng = np.random.default_rng(seed)
    look, hour = sorted(LOOKS)[seed % len(LOOKS)], float(rng.uniform(6.5, 19.5))
    apart, iso, quality = float(rng.uniform(-1, 1)) * most_stops, int(rng.choice([100, 200, 400])), 0
    taken = []
    for index, (at, still) in enumerate(((hour, 0.3), (hour + BETWEEN_HOURS, 0.9))):
        light = paint(look, seed, 480, 320, at, still) * np.float32(METERED)
        if index:
            through = light * passed.astype(np.float32)
            light = through * np.float32(2.0**-apart * light.mean() / through.mean())
        quality = quality or int(rng.integers(85, 96))
        taken.append(
            sketch(foreign.photograph(light, curve, seed=2 * seed + index, iso=iso, quality=quality))
        )
    bare, worn = taken
    seen = compare(bare.grey, worn.grey)
    return colour_cast(bare, worn, seen.stops, True)


@dataclass(frozen=True)
class Found:
    """Casts of many pairs."""

    told: list[Cast]
    pairs: int

    @property
    def flagged(self) -> float:
        """Share of the measurable pairs in which a cast is told."""
        return float(np.mean([cast.uv > LEAST_UV for cast in self.told]))

    def words(self) -> str:
        """One row of the table."""
        uv = np.array([cast.uv for cast in self.told])
        mired = np.array([cast.mired for cast in self.told])
        p50, p95 = np.quantile(uv, [0.5, 0.95])
        low, middle, high = np.quantile(mired, [0.05, 0.5, 0.95])
        names = {w: sum(c.words == w for c in self.told) for w in sorted({c.words for c in self.told})}
        return (
            f"{len(self.told):4d} of {self.pairs:4d} measured, flagged {self.flagged:.3f}, "
            f"u'v' {p50:.4f} / {p95:.4f}, mired {low:+.0f} {middle:+.0f} {high:+.0f}; {names}"
        )


def found(count: int, curve: str, passed: Floats, seed: int = 0) -> Found:
    """`count` pairs by one camera."""
    first = 1000 * sorted(foreign.CURVES).index(curve) + 10_000 * (seed + 1)
    casts = [pair(first + n, curve, passed) for n in range(count)]
    return Found([cast for cast in casts if not cast.why], count)


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    for name, passed in {
        "no filter": np.ones(3),
        "30 mired warmer": filter_of(30.0),
        "30 mired cooler": filter_of(-30.0),
        "15 % less red and blue": np.array([0.85, 1.0, 0.85]),
    }.items():
        print(f"\n{name}")
        all_ = [found(count, curve, passed, seed=3) for curve in foreign.CURVES]
        for curve, one in zip(foreign.CURVES, all_, strict=True):
            print(f"  {curve:6s} {one.words()}")
        print(f"  all    {Found([c for one in all_ for c in one.told], 6 * count).words()}")
