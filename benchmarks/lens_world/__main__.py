"""python -m benchmarks.lens_world trace | lenses."""

from __future__ import annotations

import argparse


def main() -> None:
    """Runs the part that is named."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.lens_world", description=__doc__)
    parser.add_argument("part", choices=["trace", "lenses"])
    asked = parser.parse_args()
    if asked.part == "trace":
        from benchmarks.lens_world.footprints import make

        make()


if __name__ == "__main__":
    main()
