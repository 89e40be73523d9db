"""Time of a corner map of 61 x 41 points behind four openings, and its ratio to following rays.

    python benchmarks/corners.py

Two maps: one in which about a tenth of the bundles is cut, one in which two thirds are.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import numpy as np

from audit.demo.rays import Box, Bundle, Round, unobstructed
from audit.optics.corners import Circle, Rectangle, default_pupil, transmission

X_MM, Y_MM = np.meshgrid(np.linspace(-18, 18, 61), np.linspace(12, -12, 41))
RAYS = 1024
CASES = {
    "a tenth cut": (18.0, 8.0, 1.0),
    "two thirds cut": (30.0, 1.2, 0.62),
}


def openings(scale: float) -> list[Circle | Rectangle]:
    """Ring, holder, rails turned by 20 degrees and front ring, all widths scaled."""
    return [
        Circle(37 * scale, 4),
        Circle(43 * scale, 11),
        Rectangle(90 * scale, 1000, 17.4, 20),
        Circle(49 * scale, 25),
    ]


def median_ms(call: Callable[[], object], times: int) -> float:
    """Median time of a call."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        took.append(time.perf_counter() - start)
    return 1e3 * statistics.median(took)


def _as_traced(opening: Circle | Rectangle) -> Round | Box:
    if isinstance(opening, Circle):
        return Round(opening.radius_mm, opening.distance_mm)
    return Box(opening.width_mm, opening.height_mm, opening.distance_mm, opening.turned_deg)


def main() -> None:
    """Prints share cut, median time and ratio for each case."""
    for name, (focal_mm, f_number, scale) in CASES.items():
        rig, pupil = openings(scale), default_pupil(focal_mm, f_number, 25.0)
        tan_x, tan_y = X_MM / focal_mm, Y_MM / focal_mm
        passed = transmission(tan_x, tan_y, pupil, rig)
        same = [_as_traced(o) for o in rig]
        bundle = Bundle(**vars(pupil))
        model = median_ms(lambda: transmission(tan_x, tan_y, pupil, rig), 301)  # noqa: B023
        rays = median_ms(lambda: unobstructed(tan_x, tan_y, bundle, same, rays=RAYS), 5)  # noqa: B023
        cut = ((passed > 0) & (passed < 1)).mean()
        print(f"{name}: {100 * cut:.0f} % cut, {model:.2f} ms, {rays / model:.0f} x quicker than {RAYS} rays")


if __name__ == "__main__":
    main()
