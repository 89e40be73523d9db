"""The test world of corners: python -m benchmarks.lens_world PART [tune|unseen].

trace         makes footprints.npz from prescriptions.json (a minute)
lenses        lists the lenses of both halves
calibrations  60 simulated calibrations
wrong         twelve wrong set-ups and ten right ones
verdicts      320 combinations of lens, rig and f-number
"""

from __future__ import annotations

import argparse


def main() -> None:
    """Runs the part that is named."""
    parser = argparse.ArgumentParser(
        prog="python -m benchmarks.lens_world",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("part", choices=["trace", "lenses", "calibrations", "wrong", "verdicts"])
    parser.add_argument("half", choices=["tune", "unseen"], nargs="?", default="tune")
    parser.add_argument("--count", type=int, help="how many, where not all are wanted")
    asked = parser.parse_args()
    if asked.part == "trace":
        from benchmarks.lens_world.footprints import make

        make()
    elif asked.part == "lenses":
        from benchmarks.lens_world.lenses import listing

        print(listing())
    elif asked.part == "calibrations":
        from benchmarks.lens_world import calibrations

        calibrations.report(calibrations.run(asked.half, asked.count or calibrations.COUNT))
    elif asked.part == "wrong":
        from benchmarks.lens_world import wrong

        wrong.report(wrong.run(asked.half))
    elif asked.part == "verdicts":
        from benchmarks.lens_world import verdicts

        verdicts.report(verdicts.run(asked.half, asked.count or verdicts.COUNT))


if __name__ == "__main__":
    main()
