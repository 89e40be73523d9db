"""The steps from table to table by their size: benchmarks/steps.py as figures of the page."""

from __future__ import annotations

from benchmarks.performance.rounds import Figure
from benchmarks.steps import exponents, measured

SIZES = (1_000, 10_000, 100_000)


def figures(sizes: tuple[int, ...] = SIZES) -> list[Figure]:
    """Processor time of all steps at each size and of each at the largest, how they grow, and memory."""
    runs = [measured(frames, outputs=False) for frames in sizes]
    part = "tables from scan to checks, pixels off, processor time"
    told = [
        Figure.single(
            part, f"all steps at {run['frames']:,} frames", "ms a frame", 1000 * sum(run["s"].values()) / n
        )
        for run, n in zip(runs, sizes, strict=True)
    ]
    last, before = runs[-1], runs[-2]
    for name, seconds in sorted(last["s"].items(), key=lambda pair: -pair[1]):
        told.append(
            Figure.single(part, f"{name}, at {sizes[-1]:,}", "ms a frame", 1000 * seconds / sizes[-1])
        )
    part = f"growth of the tables' steps from {sizes[-2]:,} to {sizes[-1]:,} frames"
    for name, power in exponents(runs).items():
        told.append(Figure.single(part, name, "as exponent", power, "at most 1.05"))
    grown = (last["peak_mb"] - before["peak_mb"]) / (sizes[-1] - sizes[-2]) * 1000
    return [*told, Figure.single(part, "memory for each further 1,000 frames", "MB", grown, "at most 10")]
