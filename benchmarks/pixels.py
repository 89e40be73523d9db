"""What small pictures of 24-megapixel camera JPEGs cost, by source, and whether memory stays flat.

    python benchmarks/pixels.py [FRAMES]

Each source is timed against the JPEG library alone (Pillow, draft) that decodes the same bytes at the same
scale, turn by turn in one run. The pictures are a painted scene, enlarged, with noise; they are made once.
Memory is the peak of a process of its own that scans nothing and makes so many sketches.
"""

from __future__ import annotations

import io
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from audit.demo.header import with_preview
from audit.demo.scene import paint
from audit.pixels import readers
from audit.pixels.sources import Sketches
from audit.scan import scan

PLACE = Path(tempfile.gettempdir()) / "cornerstop-24-megapixels"
WIDTH, HEIGHT, QUALITY = 6000, 4000, 92
PREVIEW = 1620, 1080
DIFFERENT, LINKS = 3, 400
WHOLE = 1 << 40


def picture(seed: int) -> bytes:
    """One camera-like JPEG with EXIF and a preview of 1620 x 1080."""
    light = paint("valley", seed, 1500, 1000, 9.0, 0.5)
    codes = (255 * np.clip(light * 0.2, 0, 1) ** (1 / 2.2)).astype(np.uint8)
    large = np.asarray(Image.fromarray(codes).resize((WIDTH, HEIGHT), Image.Resampling.BICUBIC))
    rng = np.random.default_rng(seed)
    grain = rng.normal(0, 4, (HEIGHT, WIDTH, 1)).astype(np.float32)
    noisy = Image.fromarray(np.clip(large + grain, 0, 255).astype(np.uint8))
    exif = Image.Exif()
    exif[0x0110], exif[0x0132] = "Brattholm Tarn", f"2026:05:02 05:10:{seed:02d}"
    whole, small = io.BytesIO(), io.BytesIO()
    noisy.save(whole, "JPEG", quality=QUALITY, exif=exif)
    noisy.resize(PREVIEW, Image.Resampling.BOX).save(small, "JPEG", quality=85)
    data = whole.getvalue()
    jfif_bytes = 2 + int.from_bytes(data[4:6], "big") if data[2:4] == b"\xff\xe0" else 0
    return with_preview(data[:2] + data[2 + jfif_bytes :], small.getvalue())


def make() -> Path:
    """The dump of pictures, many names for a few files."""
    if not PLACE.is_dir():
        PLACE.mkdir()
        made = [PLACE / f"TARN{number:04d}.JPG" for number in range(LINKS)]
        for number, path in enumerate(made[:DIFFERENT]):
            path.write_bytes(picture(number))
        for number, path in enumerate(made[DIFFERENT:]):
            path.hardlink_to(made[number % DIFFERENT])
    return PLACE


def frames(count: int) -> list[dict[str, Any]]:
    """Rows of as many frames: one scanned, its twins by name."""
    rows = {str(row["files"][0]): row for row in _scanned()}
    known = list(rows.values())
    return [
        {
            **known[n % DIFFERENT],
            "frame": f"{n}",
            "files": [f"TARN{n:04d}.JPG"],
            "preview_file": f"TARN{n:04d}.JPG",
        }
        for n in range(count)
    ]


def _scanned() -> list[dict[str, Any]]:
    with tempfile.TemporaryDirectory(dir=PLACE.parent) as place:
        for number in range(DIFFERENT):
            name = f"TARN{number:04d}.JPG"
            (Path(place) / name).hardlink_to(PLACE / name)
        found = scan(Path(place)).frames.to_dict("records")
    return [{str(k): v for k, v in row.items()} for row in found]


def alone(row: dict[str, Any], shrink: int) -> None:
    """The library alone: the preview (shrink 0), or the picture at a fraction of its size."""
    path = PLACE / row["files"][0]
    if shrink == 0:
        with path.open("rb") as file:
            file.seek(int(row["preview_offset"]))
            data: Any = io.BytesIO(file.read(int(row["preview_bytes"])))
    else:
        data = path
    with Image.open(data, formats=["JPEG"]) as opened:
        if shrink:
            opened.draft("RGB", (WIDTH // shrink, HEIGHT // shrink))
        opened.load()


def timed(
    rows: list[dict[str, Any]], ours: Callable[[dict[str, Any]], Any], shrink: int
) -> tuple[float, float]:
    """Seconds of our source and of the library alone, turn by turn."""
    took = [0.0, 0.0]
    for row in rows:
        for place, work in enumerate((ours, lambda row: alone(row, shrink))):
            start = time.perf_counter()
            work(row)
            took[place] += time.perf_counter() - start
    return took[0], took[1]


def times(count: int) -> None:
    """Prints the times of all sources."""
    make()
    rows = frames(count)
    bare = [{**row, "preview_file": None} for row in rows]
    whole_pixels = readers.WHOLE_PIXELS
    with tempfile.TemporaryDirectory() as place:
        cache = Path(place) / "pixels.sqlite"
        with Sketches(PLACE, "preview", cache) as pictures:
            for row in rows:
                pictures.of(row)
        cases = [
            ("preview", rows, Sketches(PLACE, "preview"), 0, whole_pixels),
            ("preview, kept", rows, Sketches(PLACE, "preview", cache), 0, whole_pixels),
            ("reduced decode", bare, Sketches(PLACE, "full"), 8, whole_pixels),
            ("full decode", bare, Sketches(PLACE, "full"), 1, WHOLE),
        ]
        for name, asked, pictures, shrink, limit in cases:
            readers.WHOLE_PIXELS = limit
            ours, library = timed(asked, pictures.of, shrink)
            assert all(pictures.of(row) is not None for row in asked[:DIFFERENT])
            per = 1000 / len(asked)
            ratio = f"x {ours / library:.2f}"
            print(f"{name:15} {ours * per:7.1f} s for 1,000, library alone {library * per:7.1f} s, {ratio}")
    size = (PLACE / "TARN0000.JPG").stat().st_size
    print(f"{count} frames of {size / 1e6:.1f} MB, preview {int(rows[0]['preview_bytes']) / 1e3:.0f} kB")


def peak(mode: str, count: int) -> None:
    """Prints the peak of memory [MB] of this process after so many frames."""
    rows = frames(count)
    if mode == "full":
        rows = [{**row, "preview_file": None} for row in rows]
    with tempfile.TemporaryDirectory() as place, Sketches(PLACE, mode, Path(place) / "c") as pictures:  # type: ignore[arg-type]
        for row in rows:
            assert pictures.of(row) is not None
    print(f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f}")


def memory() -> None:
    """Prints the peaks for 100 and for 400 frames."""
    for mode in ("preview", "full"):
        said = []
        for count in (100, 400):
            command = [sys.executable, __file__, "peak", mode, str(count)]
            said.append(subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip())
        print(f"{mode:15} peak {said[0]} MB for 100 frames, {said[1]} MB for 400")


if __name__ == "__main__":
    if sys.argv[1:2] == ["peak"]:
        peak(sys.argv[2], int(sys.argv[3]))
    else:
        times(int(sys.argv[1]) if len(sys.argv) > 1 else 30)
        memory()
