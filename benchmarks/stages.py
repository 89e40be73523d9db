"""Where an audit's time goes: many copies of one JPEG in ten folders, split by stage.

    python benchmarks/stages.py PICTURE.JPG [COPIES]

Ratios are within one run: each stage to the time that exifread alone takes for the same files.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import exifread

from audit import report
from audit.check import run_checks
from audit.corners.verdict import add_corners
from audit.declare import add_gear, join, load
from audit.exposure.light import add_light
from audit.exposure.scenes import add_scenes
from audit.result import Result
from audit.scan import scan

TOOK: dict[str, float] = {}


@contextmanager
def stage(name: str) -> Iterator[None]:
    """Adds the time of a block to its stage."""
    start = time.perf_counter()
    yield
    TOOK[name] = TOOK.get(name, 0.0) + time.perf_counter() - start


def copies(picture: Path, count: int, dump: Path) -> None:
    """Copies with counters of their own, so that they do not count as mirrored cards."""
    data = picture.read_bytes()
    for number in range(1, count + 1):
        folder = dump / f"{100 + number * 10 // (count + 1)}BRATA"
        folder.mkdir(exist_ok=True)
        (folder / f"TARN{number:04d}.JPG").write_bytes(data)


def main(picture: Path, count: int) -> None:
    """Runs the stages one by one and prints their times and ratios."""
    with tempfile.TemporaryDirectory() as place:
        dump = Path(place) / "dump"
        dump.mkdir()
        copies(picture, count, dump)
        with stage("exifread alone"):
            for file in sorted(dump.rglob("*.JPG")):
                with file.open("rb") as handle:
                    exifread.process_file(handle, details=False)
        with stage("scan"):
            scanned = scan(dump)
        with stage("gear and join"):
            loaded = load(dump)
            joined = join(add_gear(scanned.frames, loaded.kit), loaded.kit, loaded.declarations)
        with stage("measure"):
            frames = add_light(add_scenes(joined.frames, loaded.kit), loaded.kit)
            frames = add_corners(frames, joined.rigs, loaded.kit)
        with stage("checks"):
            findings, checks = run_checks(frames)
        with stage("report"):
            report.write(
                Result(
                    dump.name,
                    frames,
                    scanned.passed_over,
                    scanned.files_seen,
                    joined.rigs,
                    tuple(findings),
                    tuple(checks),
                    joined.mistakes,
                    loaded.kit,
                ),
                Path(place) / "out",
            )
        page = sum(f.stat().st_size for f in (Path(place) / "out").rglob("*.html"))
    for name, seconds in TOOK.items():
        print(f"{name:15} {seconds:7.2f} s  x {seconds / TOOK['exifread alone']:.2f}")
    print(f"{count} files, {len(frames)} frames, pages {page / 1e6:.1f} MB")


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 2000)
