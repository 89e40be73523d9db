"""The order sheet for a printer, as CSV: file, crop rectangle, size, copies."""

from __future__ import annotations

import csv
import io

from audit.message.shown import disarmed, writable
from audit.optics.crop import Crop
from audit.optics.paper import A_SHEETS, CM_SHEETS, PPIS, Placed, largest
from audit.report.print_jobs import Job, jobs
from audit.report.words import texts
from audit.result import Result

_RECTANGLE = ("left_px", "top_px", "width_px", "height_px")
HEADER = (
    "file",
    *(f"crop_shown_{name}" for name in _RECTANGLE),
    *(f"crop_stored_{name}" for name in _RECTANGLE),
    "exif_orientation",
    *("print_width_mm", "print_height_mm", "ppi", "paper", "copies", "note"),
)
"""`shown`: the picture turned as its EXIF orientation asks, as most programs open it; `stored`: unturned."""


def orders_text(result: Result) -> str:
    """One line a print; a spreadsheet takes no text cell for a formula. Numbers have a decimal point."""
    file = io.StringIO(newline="")
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(HEADER)
    writer.writerows(_line(job) for job in jobs(result))
    return file.getvalue()


def proposed(job: Job) -> Placed | None:
    """The largest common sheet (A series or cm) at 300 ppi, else at 240, else at 180; None where none is."""
    shown = job.shown
    if shown is None:
        return None
    fits = (largest(shown.width_px, shown.height_px, ppi, (*A_SHEETS, *CM_SHEETS)) for ppi in PPIS)
    return next((placed for placed in fits if placed), None)


def _line(job: Job) -> list[str]:
    placed = proposed(job)
    size = (
        [f"{placed.width_mm:.1f}", f"{placed.height_mm:.1f}", f"{placed.ppi:.0f}", placed.sheet.name]
        if placed
        else [""] * 4
    )
    few = job.size is not None and placed is None
    note = "; ".join(n for n in (job.note, f"no common sheet at {PPIS[-1]} ppi" if few else "") if n)
    files = texts(job.row["files"])
    return [
        disarmed(writable(files[0] if files else str(job.row["frame"]))),
        *_rectangle(job.shown),
        *_rectangle(job.stored),
        str(job.orientation),
        *size,
        "1",
        disarmed(writable(note)),
    ]


def _rectangle(crop: Crop | None) -> list[str]:
    if crop is None:
        return [""] * 4
    return [str(n) for n in (crop.left_px, crop.top_px, crop.width_px, crop.height_px)]
