"""Figures of the second world: python -m benchmarks.world [--trips N] [--half tune|unseen] [--json FILE].

Figures per thousand are per 1,000 frames of the half.
"""

from __future__ import annotations

import argparse
import json
import math
from pathlib import Path

from benchmarks.world.ceiling import LEARN_FROM, LEARN_TRIPS, learn
from benchmarks.world.figures import HALVES, Tally, measure, nth
from benchmarks.world.series import FILE, series_figures

PER_1000 = ("sure and wrong", "findings", "false sets per frame")


def main() -> None:
    """Prints the figures and writes them where asked."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.world", description=__doc__)
    parser.add_argument("--trips", type=int, default=40, help="trips of each half")
    parser.add_argument("--half", choices=list(HALVES), help="one half only")
    parser.add_argument("--json", type=Path, help="write the figures here as well")
    asked = parser.parse_args()
    known = learn(nth(seed) for seed in range(LEARN_FROM, LEARN_FROM + LEARN_TRIPS))
    figures: dict[str, dict[str, float]] = {}
    for half in [asked.half] if asked.half else list(HALVES):
        tally = measure(half, asked.trips, known)
        figures[half] = rows(tally)
        print(f"\n{half}: {asked.trips} trips, {int(tally.hits['frames a trip'])} frames")
        for name, value in figures[half].items():
            print(f"  {name:58s} {value:8.1f}")
    series = series_figures()
    if series is None:
        print(f"\nreal series left out: {FILE} is missing")
    else:
        figures["series"] = series
        print("\nreal series")
        for name, value in series.items():
            print(f"  {name:58s} {value:8.0f}")
    if asked.json:
        asked.json.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")


def rows(tally: Tally) -> dict[str, float]:
    """The rows in words: percent, per 1,000 frames, or a mean; the cases beside those that are few."""
    frames = tally.hits["frames a trip"]
    found = {}
    for name in sorted(tally.cases):
        share = tally.share(name)
        if name == "frames a trip" or name.startswith("mistakes"):
            found[name] = share
        elif ", " in name and "findings" in name:
            found[f"{name}, per 1,000"] = 1000 * tally.hits[name] / frames
        elif any(words in name for words in PER_1000) and not name.startswith("frames in"):
            found[f"{name}, per 1,000"] = 1000 * share
        else:
            found[f"{name}, % of {int(tally.cases[name])}"] = 100 * share
    return {name: value for name, value in found.items() if not math.isnan(value)}


if __name__ == "__main__":
    main()
