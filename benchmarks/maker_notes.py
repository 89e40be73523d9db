"""What it costs to look into makers' notes: files that need no look, and files that do.

    python benchmarks/maker_notes.py [FILES]

Small JPEGs with a note of 20 kB, read in turn: by the scan, by the scan without any look into notes,
and by exifread alone, without and with the notes as a whole. Ratios are within one run; the least of five.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import exifread

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "scan"))

from camera_files import jpeg, raw, short, text
from notes_files import noted, with_own_header

from audit.scan import reader

ROUNDS = 5
PADDING = 0x00FF  # a tag that nobody asks for
NOTE = {0x0002: short(0, 400), 0x001D: text("2004711"), PADDING: raw(bytes(20_000))}
ISO, LENS, SERIAL = 0x8827, 0xA434, 0xA431
CASES = {
    "ordinary: nothing lacks": ("NIKON", ()),
    "serial lacks, maker unknown": ("Brattholm", (SERIAL,)),
    "serial lacks, in the notes": ("NIKON", (SERIAL,)),
    "ISO, lens and serial lack": ("NIKON", (ISO, LENS, SERIAL)),
}


def exifread_alone(path: Path, *, details: bool) -> None:
    """All that exifread reads."""
    with path.open("rb") as handle:
        exifread.process_file(handle, details=details, extract_thumbnail=False)


def without_notes(path: Path) -> None:
    """The scan as it would be if it never looked into notes."""
    kept, reader.lacking = reader.lacking, lambda _: False
    try:
        reader.read_file(path)
    finally:
        reader.lacking = kept


WAYS: dict[str, Callable[[Path], Any]] = {
    "scan": reader.read_file,
    "without a look": without_notes,
    "exifread": lambda path: exifread_alone(path, details=False),
    "with all notes": lambda path: exifread_alone(path, details=True),
}


def timed(paths: list[Path]) -> dict[str, float]:
    """Seconds of each way for all files, the least of some rounds that take turns."""
    least = dict.fromkeys(WAYS, float("inf"))
    for _ in range(ROUNDS):
        for name, work in WAYS.items():
            start = time.process_time()
            for path in paths:
                work(path)
            least[name] = min(least[name], time.process_time() - start)
    return least


def main(count: int) -> None:
    """Prints milliseconds a file and ratios."""
    print(f"{'':30}" + "".join(f"{name:>16}" for name in WAYS) + "   scan / without a look")
    for words, (make, without) in CASES.items():
        with tempfile.TemporaryDirectory() as place:
            paths = [Path(place) / f"TARN{number:04d}.JPG" for number in range(count)]
            data = jpeg(noted(make, with_own_header(NOTE, "<"), without=without))
            for path in paths:
                path.write_bytes(data)
            took = timed(paths)
        times = "".join(f"{1000 * seconds / count:13.2f} ms" for seconds in took.values())
        print(f"{words:30}{times}   x {took['scan'] / took['without a look']:.2f}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
