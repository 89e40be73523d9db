"""The order sheet for a printer, as CSV: what is printed of each picture, how large, how often."""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from functools import lru_cache

from audit.message.shown import writable
from audit.message.spreadsheet import csv_text, disarmed
from audit.optics.crop import Crop
from audit.optics.paper import A_SHEETS, CM_SHEETS, MM_PER_INCH, PPIS, Placed, largest
from audit.report.print_jobs import Job, jobs
from audit.report.words import known, text, texts
from audit.result import Result

_RECTANGLE = ("left_px", "top_px", "width_px", "height_px")
HEADER = (
    *("job", "line", "file", "path"),
    *(f"crop_{name}" for name in _RECTANGLE),
    *("print_width_mm", "print_height_mm", "print_width_in", "print_height_in"),
    *("paper", "ppi", "border_mm", "copies", "colour_profile", "bits", "remark", "exif_orientation"),
    *(f"crop_stored_{name}" for name in _RECTANGLE),
)
"""`crop`: in the picture turned as EXIF asks, as most programs open it; `crop_stored`: unturned."""
TOTAL = "total"
_JOB_NUMBERS = 1_000_000


def orders_text(result: Result) -> str:
    """One line a print and one of totals; a spreadsheet takes no text cell for a formula. Decimal points."""
    lines = [{"line": str(n), **_line(job)} for n, job in enumerate(jobs(result), start=1)]
    if lines:
        lines.append(_total(lines))
    rows = [[line.get(name, "") for name in HEADER] for line in lines]
    number = job_number(rows)
    return csv_text([HEADER, *([number, *row[1:]] for row in rows)])


def job_number(rows: list[list[str]]) -> str:
    """Six digits that are the same for the same order, and hardly for another: a check sum of its lines."""
    words = "\n".join(",".join(row) for row in rows)
    return f"{zlib.crc32(words.encode('utf-8')) % _JOB_NUMBERS:06}"


def _total(lines: list[dict[str, str]]) -> dict[str, str]:
    """How many pictures and prints, and how much of them, in m2."""
    area = sum(
        float(line["print_width_mm"]) * float(line["print_height_mm"]) * int(line["copies"]) / 1e6
        for line in lines
        if line["print_width_mm"]
    )
    copies = sum(int(line["copies"]) for line in lines)
    unknown = sum(not line["print_width_mm"] for line in lines)
    words = f"pictures: {len(lines)}; prints: {copies}; printed area: {area:.2f} m2"
    remark = f"{words}; without a size: {unknown}" if unknown else words
    return {"line": TOTAL, "copies": str(copies), "remark": remark}


def proposed(job: Job) -> Placed | None:
    """The largest common sheet (A series or cm) at 300 ppi, else at 240, else at 180; None where none is."""
    return _proposed(job.shown.width_px, job.shown.height_px) if job.shown else None


@lru_cache(maxsize=1_000)  # most pictures of a trip are of one size
def _proposed(width_px: int, height_px: int) -> Placed | None:
    fits = (largest(width_px, height_px, ppi, (*A_SHEETS, *CM_SHEETS)) for ppi in PPIS)
    return next((placed for placed in fits if placed), None)


def _line(job: Job) -> dict[str, str]:
    placed = proposed(job)
    few = job.size is not None and placed is None
    fixed = fixed_cells(job)
    remark = "; ".join(n for n in (fixed["remark"], f"no common sheet at {PPIS[-1]} ppi" if few else "") if n)
    return fixed | (_size(placed) if placed else _NO_SIZE) | {"remark": remark, "copies": "1"}


_NO_SIZE = {"print_width_mm": "", "print_height_mm": ""}


def _size(placed: Placed) -> dict[str, str]:
    sides = {"width": placed.width_mm, "height": placed.height_mm}
    return {
        **{f"print_{name}_mm": f"{side:.1f}" for name, side in sides.items()},
        **{f"print_{name}_in": f"{side / MM_PER_INCH:.2f}" for name, side in sides.items()},
        "paper": placed.sheet.name,
        "ppi": f"{placed.ppi:.0f}",
        "border_mm": "0",
    }


def fixed_cells(job: Job) -> dict[str, str]:
    """What an order says of a picture whatever the paper: file, crop, colours, remark."""
    path = path_of(job)
    return {
        "file": disarmed(path.rpartition("/")[2]),
        "path": disarmed(path),
        **_rectangle("crop", job.shown),
        **_rectangle("crop_stored", job.stored),
        "exif_orientation": str(job.orientation),
        "colour_profile": disarmed(writable(text(job.row["colour_profile"]))),
        "bits": _whole(job.row, "bit_depth"),
        "remark": disarmed(writable(job.note)),
    }


def path_of(job: Job) -> str:
    """The picture's file, as its path below the dump."""
    files = texts(job.row["files"])
    return writable(files[0] if files else str(job.row["frame"]))


def _whole(row: Mapping[str, object], name: str) -> str:
    return str(int(str(row[name]))) if known(row[name]) else ""


def _rectangle(name: str, crop: Crop | None) -> dict[str, str]:
    if crop is None:
        return {}
    sides = (crop.left_px, crop.top_px, crop.width_px, crop.height_px)
    return {f"{name}_{side}": str(n) for side, n in zip(_RECTANGLE, sides, strict=True)}
