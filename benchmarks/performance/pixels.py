"""Small pictures of 24-megapixel camera JPEGs by source, beside the JPEG library alone; memory by frames.

The pictures are a painted scene, enlarged, with noise; a few, under many names. The library (Pillow) decodes
the same bytes at the same scale; OpenCV does so too, where it is installed. Memory is the peak of a process
of its own that makes so many sketches.
"""

from __future__ import annotations

import io
import subprocess
import sys
import tempfile
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from audit.demo.header import with_preview
from audit.demo.scene import paint
from audit.pixels import readers
from audit.pixels.sources import Mode, Sketches
from audit.scan import scan
from benchmarks.performance.rounds import Figure, peak_mb, timed

PART = "pictures of 24 megapixels"
WHOLE_PIXELS = readers.WHOLE_PIXELS
Row = dict[str, Any]

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


def make(dump: Path) -> Path:
    """The dump of pictures, many names for a few files."""
    if not dump.is_dir():
        dump.mkdir(parents=True)
        made = [dump / f"TARN{number:04d}.JPG" for number in range(LINKS)]
        for number, path in enumerate(made[:DIFFERENT]):
            path.write_bytes(picture(number))
        for number, path in enumerate(made[DIFFERENT:]):
            path.hardlink_to(made[number % DIFFERENT])
    return dump


def frames(dump: Path, count: int) -> list[Row]:
    """Rows of as many frames: one scanned, its twins by name."""
    rows = {str(row["files"][0]): row for row in _scanned(dump)}
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


def _scanned(dump: Path) -> list[Row]:
    with tempfile.TemporaryDirectory(dir=dump.parent) as place:
        for number in range(DIFFERENT):
            name = f"TARN{number:04d}.JPG"
            (Path(place) / name).hardlink_to(dump / name)
        found = scan(Path(place)).frames.to_dict("records")
    return [{str(k): v for k, v in row.items()} for row in found]


def alone(dump: Path, row: Row, shrink: int) -> None:
    """The library alone: the preview (shrink 0), or the picture at a fraction of its size."""
    path = dump / row["files"][0]
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


def _opencv(dump: Path) -> Callable[[Row], object] | None:
    try:
        cv2 = import_module("cv2")
    except ImportError:
        return None
    return lambda row: cv2.imread(str(dump / row["files"][0]), cv2.IMREAD_REDUCED_COLOR_8)


def _each(rows: list[Row], work: Callable[[Row], object]) -> Callable[[], None]:
    def all_of_them() -> None:
        for row in rows:
            work(row)

    return all_of_them


def _ours(dump: Path, rows: list[Row], mode: Mode, limit: int) -> Callable[[], None]:
    """Our source, with nothing kept from before; pictures of up to `limit` pixels are decoded whole."""

    def all_of_them() -> None:
        readers.WHOLE_PIXELS = limit
        with Sketches(dump, mode) as pictures:
            assert all(pictures.of(row) is not None for row in rows)

    return all_of_them


def figures(place: Path, rounds: int, count: int) -> list[Figure]:
    """Ms a frame by source, and the peak of memory for few frames and for many."""
    dump = make(place / "24 megapixels")
    rows = frames(dump, count)
    bare = [{**row, "preview_file": None} for row in rows]
    told = []
    for name, asked, mode, limit, shrink, aim in (
        ("embedded preview", rows, "preview", WHOLE_PIXELS, 0, "8 x faster than reduced"),
        ("reduced decode", bare, "full", WHOLE_PIXELS, 8, "at most 1.15 x"),
        ("full decode", bare, "full", WHOLE, 1, ""),
    ):
        library = f"Pillow alone, {name}"
        ways = {library: _each(asked, lambda row, shrink=shrink: alone(dump, row, shrink))}
        ways[name] = _ours(dump, asked, mode, limit)
        if shrink == 8 and (decode := _opencv(dump)) is not None:
            ways["OpenCV alone, reduced decode"] = _each(asked, decode)
        aims = {name: aim}
        told += timed(PART, ways, against=library, rounds=rounds, per=count, unit="ms a frame", aims=aims)
    readers.WHOLE_PIXELS = WHOLE_PIXELS
    for mode in ("preview", "full"):
        for frames_ in (count, 4 * count):
            what = f"peak memory, {mode}, {frames_} frames"
            told.append(Figure.single(PART, what, "MB", peak_of(dump, mode, frames_)))
    return told


def peak_of(dump: Path, mode: str, count: int) -> float:
    """Peak of memory [MB] of a process that makes the sketches of so many frames."""
    command = [sys.executable, "-m", "benchmarks.performance.pixels", str(dump), mode, str(count)]
    return float(subprocess.run(command, capture_output=True, text=True, check=True).stdout)


def peak(dump: Path, mode: str, count: int) -> None:
    """Prints the peak of memory [MB] of this process after so many frames."""
    rows = frames(dump, count)
    if mode == "full":
        rows = [{**row, "preview_file": None} for row in rows]
    with Sketches(dump, mode) as pictures:  # type: ignore[arg-type]
        for row in rows:
            assert pictures.of(row) is not None
    print(peak_mb())


if __name__ == "__main__":
    peak(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]))
