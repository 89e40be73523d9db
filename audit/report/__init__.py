"""The report: one HTML page and the data files beside it."""

from __future__ import annotations

from pathlib import Path

from audit.model.result import Result
from audit.report.data import write_csv, write_findings, write_parquet
from audit.report.output import write_folder
from audit.report.templating import environment
from audit.report.view import page

__all__ = ["render", "write"]


def render(result: Result, *, serials: bool = False) -> str:
    """The page as text; it needs no other file and no network."""
    return environment().get_template("report.html").render(page=page(result, serials=serials))


def write(result: Result, out: Path, *, serials: bool = False) -> Path:
    """Writes report.html, frames.parquet, frames.csv and findings.json into the folder `out`; gives its path.

    The folder appears whole or not at all. An older one of ours is replaced; anything else in its place
    is an AuditError. Serial numbers are left out unless `serials`.
    """

    def fill(folder: Path) -> None:
        (folder / "report.html").write_text(render(result, serials=serials), encoding="utf-8", newline="\n")
        write_parquet(result.frames, folder / "frames.parquet", serials=serials)
        write_csv(result.frames, folder / "frames.csv", serials=serials)
        write_findings(result, folder / "findings.json")

    return write_folder(out, fill)
