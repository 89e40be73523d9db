"""One folder of output: a new folder inside it for each run, and a small top page that leads to the newest.

The pages of an older run stay as they were while they are read; the data files beside the top page are
always those of the newest run.
"""

from __future__ import annotations

import re
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

from audit.model.marker import OUTPUT_MARKER
from audit.report.output import MARKER_TEXT, refuse_foreign, refused, umask

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
    refuse_foreign(out)
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=f".{out.name}.", dir=out.parent))
    except OSError as error:
        raise refused(out, error) from error
    try:
        name = f"run-{max(map(number, runs(out)), default=0) + 1:04d}"
        (fresh / name).mkdir()
        fill_run(fresh / name)
        fill_top(fresh, name)
        (fresh / OUTPUT_MARKER).write_text(MARKER_TEXT, encoding="utf-8")
        fresh.chmod(0o777 & ~umask())
        _place(fresh, out, name)
    except OSError as error:
        raise refused(out, error) from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    return out


def runs(out: Path) -> list[Path]:
    """Folders of runs in the folder of output, oldest first."""
    found = [p for p in out.glob("run-*") if _RUN.fullmatch(p.name) and p.is_dir() and not p.is_symlink()]
    return sorted(found, key=number)


def number(run: Path) -> int:
    """The number in a run's name."""
    return int(run.name.partition("-")[2])


def _place(fresh: Path, out: Path, name: str) -> None:
    """Moves all into `out`; the one step that readers see, the top page, comes last."""
    if not out.exists():
        fresh.rename(out)
        return
    (fresh / name).rename(out / name)
    files = sorted(p.name for p in fresh.iterdir() if p.is_file() and p.name != TOP_PAGE)
    for file in (*files, TOP_PAGE):
        (fresh / file).replace(out / file)
    for old in runs(out)[:-KEPT_RUNS]:
        shutil.rmtree(old, ignore_errors=True)
