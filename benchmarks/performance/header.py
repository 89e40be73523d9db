"""Headers of small JPEGs in one process: the reader of the scan, beside its peers and the bare opening.

    python -m benchmarks.performance.header [--files N] [--rounds N] [--json FILE]

Sixty-seven tags a file in the layouts of five makers and both byte orders, with a maker's note. The reference
is our own reader with exifread asked for every block. Where values lack, they are looked for in the notes.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from unittest.mock import patch

import exifread
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[2] / "tests" / "scan"))

from many_tags import many

from audit.crew.crew import BATCH
from audit.scan import job, reader
from benchmarks.performance.rounds import Figure, timed

HEAD_BYTES = 1 << 16
EXIF_DIRECTORY, GPS_DIRECTORY = 0x8769, 0x8825
LOOP = "exifread loop"
SCAN = "the scan's reader, in batches as workers do"
AIM = "2 to 3 times faster"


def floor(path: Path) -> None:
    """What the system takes to open a file and read its head."""
    descriptor = os.open(path, os.O_RDONLY)
    os.pread(descriptor, HEAD_BYTES, 0)
    os.close(descriptor)


def pillow(path: Path) -> None:
    """The three directories that tell of a frame."""
    with Image.open(path) as picture:
        found = picture.getexif()
        dict(found)
        for directory in (EXIF_DIRECTORY, GPS_DIRECTORY):
            dict(found.get_ifd(directory))


def plain(path: Path, details: bool) -> None:
    """exifread as its documentation shows it."""
    with path.open("rb") as file:
        exifread.process_file(file, details=details)


def in_batches(paths: list[Path]) -> Callable[[], None]:
    """The scan's reader as a worker asks it, which says what comes next."""

    def all_of_them() -> None:
        for start in range(0, len(paths), BATCH):
            batch = paths[start : start + BATCH]
            job.expect([str(path) for path in batch])
            for path in batch:
                reader.read_file(path)

    return all_of_them


def each(work: Callable[[Path], object], paths: list[Path], *, reference: bool = False) -> Callable[[], None]:
    """A contender."""

    def all_of_them() -> None:
        for path in paths:
            work(path)

    def by_exifread() -> None:
        with patch.object(reader, "ordinary_tags", lambda _: None):
            all_of_them()

    return by_exifread if reference else all_of_them


def figures(place: Path, count: int, rounds: int) -> list[Figure]:
    """Milliseconds a file of each reader."""
    whole, lacking = (written(place / name, count, name) for name in ("whole", "lacking"))
    contenders = {
        LOOP: each(lambda path: plain(path, details=False), whole),
        "open and read 64 KiB": each(floor, whole),
        "Pillow from file": each(pillow, whole),
        "exifread loop with all details": each(lambda path: plain(path, details=True), whole),
        "the scan's reader, exifread asked throughout": each(reader.read_file, whole, reference=True),
        "the scan's reader": each(reader.read_file, whole),
        SCAN: in_batches(whole),
        "the same, values in makers' notes": in_batches(lacking),
    }
    part = f"headers of {count:,} small JPEGs, one process"
    return timed(part, contenders, against=LOOP, rounds=rounds, per=count, aims={SCAN: AIM})


def written(folder: Path, count: int, name: str) -> list[Path]:
    """The files."""
    folder.mkdir()
    paths = [folder / f"TARN{number:05}.JPG" for number in range(count)]
    for path, data in zip(paths, many(count, lacking=name == "lacking"), strict=True):
        path.write_bytes(data)
    return paths


def main() -> None:
    """Measures alone what `benchmarks.performance` measures with all the rest."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--files", type=int, default=500)
    parser.add_argument("--rounds", type=int, default=7)
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        told = figures(Path(place), asked.files, asked.rounds)
    for one in told:
        spread = f"{one.least:.3f} {one.median:.3f} {one.most:.3f}"
        print(
            f"{one.what:46} {spread} {one.unit}   {1 / (one.ratio or 1):6.2f} times as fast as {one.against}"
        )
    if asked.json:
        asked.json.write_text(json.dumps([one.plain() for one in told], indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
