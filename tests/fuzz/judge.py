"""What must be true of every file, however damaged: it is read or says why not, soon, without nonsense."""

from __future__ import annotations

import math
import os
import resource
import tempfile
import time
import traceback
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import IO, Any

from mutate import Case, case
from starts import starts

from audit.disk.work import FILE_S
from audit.kit.part import F_NUMBER_RANGE
from audit.pixels.sources import Sketches
from audit.scan import exif, exposure, reader, scan
from audit.scan.note import about
from audit.scan.tags import TEXT_LIMIT
from audit.scan.times import EARLIEST_YEAR, EASTERNMOST_MIN, LATEST_YEAR, WESTERNMOST_MIN
from audit.table.columns import BY_NAME

READ_S = PIXELS_S = 2 * FILE_S
"""Of the processor's time: what is doubtful is tried twice."""
MEMORY_KIB = 1 << 20
"""More than before at the peak: half of what a worker may take."""
EACH = 10
RANGES: dict[str, tuple[float, float]] = {
    "exposure_time_s": exposure.TIME_RANGE_S,
    "f_number": F_NUMBER_RANGE,
    "iso": exposure.ISO_RANGE,
    "ev100": (-60, 60),
    "exposure_bias_stops": exif.BIAS_RANGE_STOPS,
    "focal_length_mm": exif.FOCAL_RANGE_MM,
    "focal_length_35mm": (1, exif.FOCAL_RANGE_MM[1]),
    "lens_focal_min_mm": exif.FOCAL_RANGE_MM,
    "lens_focal_max_mm": exif.FOCAL_RANGE_MM,
    "subject_distance_m": exif.DISTANCE_RANGE_M,
    "width_px": exif.PIXEL_RANGE,
    "height_px": exif.PIXEL_RANGE,
    "orientation": (1, 8),
    "bit_depth": (1, exif.MOST_BITS),
    "focal_plane_width_mm": exif.SENSOR_RANGE_MM,
    "focal_plane_height_mm": exif.SENSOR_RANGE_MM,
    "utc_offset_min": (WESTERNMOST_MIN, EASTERNMOST_MIN),
    "latitude_deg": (-90, 90),
    "longitude_deg": (-180, 180),
}
_TIME, _GPS = ("captured_at", "utc_offset_min"), ("gps_present", "latitude_deg", "longitude_deg", "gps_at")
_T = ("exposure_time_s", "exposure_time_ratio", "exposure_time_exact_s", "exposure_time_basis", "ev100")
_N, _ISO = ("f_number", "f_number_exact", "f_number_basis", "ev100"), ("iso", "iso_source", "ev100")
_SIZE = ("width_px", "height_px", "focal_plane_width_mm", "focal_plane_height_mm")
OF: dict[int, tuple[str, ...]] = {
    **dict.fromkeys((0x100, 0x101, 0xA002, 0xA003, 0xA20E, 0xA20F, 0xA210), _SIZE),
    **dict.fromkeys(range(1, 0x20), (*_GPS, *_SIZE)),
    **dict.fromkeys((0x9003, 0x9004, 0x9291, 0x9292, 0x9011, 0x9012), _TIME),
    **dict.fromkeys((0x829A, 0x9201), _T),
    **dict.fromkeys((0x829D, 0x9202), _N),
    **dict.fromkeys((0x8827, *range(0x8830, 0x8836)), _ISO),
    **dict.fromkeys((0xA431, 0xC62F), ("body_serial", "serial_from")),
    **dict.fromkeys((0xA432, 0xC630), ("lens_focal_min_mm", "lens_focal_max_mm")),
    0x10F: ("make", *_ISO, "lens", "lens_from", "body_serial", "serial_from"),
    0x102: ("bit_depth", "preview_offset", "preview_bytes"),
    **dict.fromkeys((0x103, 0x106), ("preview_offset", "preview_bytes", "bit_depth", *_SIZE)),
    0x110: ("model",),
    0x112: ("orientation",),
    0xA001: ("colour_profile",),
    0xA435: ("lens_serial",),
    0xA434: ("lens", "lens_from"),
    0x8822: ("exposure_program",),
    0xA402: ("exposure_mode",),
    0x9207: ("metering",),
    0xA403: ("white_balance",),
    0x9209: ("flash_fired",),
    0xA460: ("composite",),
    0x9204: ("exposure_bias_stops",),
    0x920A: ("focal_length_mm",),
    0xA405: ("focal_length_35mm",),
    0x9206: ("subject_distance_m",),
}
"""The columns that a tag may change (EXIF 2.32); no other."""
_OF_THE_FILE = {"size_bytes", "notes", "problem", reader.HEAD_SUM}


def judge(
    numbers: Iterable[int], folder: Path, begins: Callable[[int], None] = lambda _: None
) -> Iterator[str]:
    """A line for each thing that is wrong with how the cases of these numbers are read, alone and together.

    Their files are made in the folder; one of `EACH` stays, for the sums in the end. `begins` hears of each.
    """
    kept = 0
    with tempfile.TemporaryFile() as said, Sketches(folder, "full") as sketches:
        for number in numbers:
            begins(number)
            one = case(number)
            path = folder / f"{one.number}-{one.name}"
            told = [*_faults(one, path, sketches, said), *_said(said)]
            kept += number % EACH == 0
            if number % EACH:
                path.unlink()
            yield from (f"case {number}, {one.name} ({'; '.join(one.done)}): {fault}" for fault in told)
    yield from wrong_sums(folder, kept)


def judge_file(one: Case, folder: Path) -> list[str]:
    """The same for one file that is given."""
    with tempfile.TemporaryFile() as said, Sketches(folder, "full") as sketches:
        return [*_faults(one, folder / one.name, sketches, said), *_said(said)]


def wrong_sums(folder: Path, made: int) -> list[str]:
    """Every file is in one row or passed over, once."""
    found = scan(folder)
    told = [file for files in found.frames["files"] for file in files] + found.passed_over["path"].tolist()
    if found.files_seen == made == len(told) == len(set(told)):
        return []
    return [f"{made} files made, {found.files_seen} seen, {len(set(told))} of {len(told)} told"]


def _said(said: IO[bytes]) -> list[str]:
    """What libraries wrote to the error output, over the heads of all."""
    said.seek(0)
    words = said.read().decode("utf-8", "replace")
    said.seek(0)
    said.truncate()
    return [f"said on the error output: {words:.200}"] if words else []


def _faults(one: Case, path: Path, sketches: Sketches, said: IO[bytes]) -> list[str]:
    path.write_bytes(one.data)
    kept = os.dup(2)
    os.dup2(said.fileno(), 2)
    try:
        return _reading(one, path, sketches)
    except Exception as error:  # whatever escapes is the finding
        return [f"escaped: {type(error).__name__}: {error}\n{traceback.format_exc(limit=-4)}"]
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def _reading(one: Case, path: Path, sketches: Sketches) -> list[str]:
    before, began_s = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.process_time()
    row = reader.read_file(path)
    read_s = time.process_time()
    found = [*wrong_values(row), *wrong_rows(one, row)]
    seen = {"frame": path.stem, "files": [path.name], **row}
    if row.get("preview_offset") is not None:
        seen["preview_file"] = path.name
    sketch = sketches.of(seen)
    pixels_s = time.process_time() - read_s
    if sketch is None and not sketches.why(seen):
        found.append("neither pixels nor a reason")
    if read_s - began_s > READ_S or pixels_s > PIXELS_S:
        found.append(f"slow: {read_s - began_s:.1f} s to read, {pixels_s:.1f} s for pixels")
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    if grown > MEMORY_KIB:
        found.append(f"memory: {grown / 1024:.0f} MiB more at the peak")
    return found


def wrong_values(row: Mapping[str, Any]) -> list[str]:
    """Values that no column promises."""
    found = []
    if (
        row["problem"] is None
        and all(row.get(name) is None for name in reader._WORTH_A_ROW)
        and not row["notes"]
    ):
        found.append("neither values nor a problem")
    for name, value in row.items():
        if name != reader.HEAD_SUM and name not in BY_NAME:
            found.append(f"{name} is no column")
        elif value is not None and (why := _wrong(name, value)):
            found.append(f"{name} {why}: {value!r:.80}")
    return found


def _wrong(name: str, value: Any) -> str:
    if isinstance(value, list):
        return next((why for one in value if (why := _wrong(name, one))), "")
    if isinstance(value, str):
        acting = any(unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") for c in value)
        return "acts" if acting else "is long" if len(value) > 2 * TEXT_LIMIT else ""
    if isinstance(value, datetime):
        return "" if EARLIEST_YEAR <= value.year <= LATEST_YEAR + 1 else "is of no time"
    if isinstance(value, bool | bytes):
        return ""
    if not isinstance(value, int | float):
        return "is no plain data"
    low, high = RANGES.get(name, (-(2.0**63), 2.0**63 - 1))
    return "" if math.isfinite(value) and low <= value <= high else "is out of range"


def wrong_rows(one: Case, row: Mapping[str, Any]) -> list[str]:
    """Values that changed though nothing that they stand in was touched: lost without a word, or another."""
    if one.touched is None:
        return []
    may = {column for tag in one.touched for column in OF.get(tag, ())} | _OF_THE_FILE
    damaged = row["problem"] or any(about(note) == "damage" for note in row["notes"])
    return [
        f"wrong row: {name} was {value!r:.60}, is {row.get(name)!r:.60}; of tags {sorted(one.touched)}"
        for name, value in _sound(one.name).items()
        if name not in may and row.get(name) != value and (row.get(name) is not None or not damaged)
    ]


@cache
def _sound(name: str) -> dict[str, Any]:
    """How a start is read that nothing was done to."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(starts()[name])
        return reader.read_file(path)
