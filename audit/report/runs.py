"""One folder of output: a new folder inside it for each run, and a small top page that leads to the newest.

The pages of an older run stay as they were while they are read; the data files beside the top page are
always those of the newest run.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from pathlib import Path

from audit.report.output import write_folder
from audit.report.pdf import PDF

KEPT_RUNS = 3
"""Newest runs that stay; what the folder held before is never more than a few trips' worth of pages."""

TOP_PAGE = "report.html"
_RUN = re.compile(r"run-(\d{4,})")


def write_run(out: Path, fill_run: Callable[[Path], None], fill_top: Callable[[Path, str], None]) -> Path:
    """Fills a fresh run, then puts it, the data files and last of all the top page in place.

    `fill_run` writes the pages into the folder it is given; `fill_top` gets a folder and the run's name and
    writes the data files and TOP_PAGE into it. Raises AuditError where `out` is not ours or the disk refuses.
    Whatever stops either, Ctrl-C too, leaves the old top page leading to the old run.
    """
    out = out.resolve()

    def fill(fresh: Path) -> None:
        run = fresh / f"run-{max(map(number, runs(out)), default=0) + 1:04d}"
        run.mkdir()
        fill_run(run)
        fill_top(fresh, run.name)

    return write_folder(out, fill, _place)


def runs(out: Path) -> list[Path]:
    """Folders of runs in the folder of output, oldest first."""
    found = [p for p in out.glob("run-*") if _RUN.fullmatch(p.name) and p.is_dir() and not p.is_symlink()]
    return sorted(found, key=number)


def number(run: Path) -> int:
    """The number in a run's name."""
    return int(run.name.partition("-")[2])


def _place(fresh: Path, out: Path) -> None:
    """Moves all into `out`; the one step that readers see, the top page, comes last."""
    if not out.exists():
        fresh.rename(out)
        return
    for run in runs(fresh):
        run.rename(out / run.name)
    if not (fresh / PDF).exists():
        (out / PDF).unlink(missing_ok=True)  # an earlier run's, which would belie the data beside it
    files = sorted(p.name for p in fresh.iterdir() if p.is_file() and p.name != TOP_PAGE)
    for file in (*files, TOP_PAGE):
        (fresh / file).replace(out / file)
    for old in runs(out)[:-KEPT_RUNS]:
        shutil.rmtree(old, ignore_errors=True)
