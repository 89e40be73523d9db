"""The report: pages (or one), and the data files beside them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from audit.errors import AuditError
from audit.model.result import Result
from audit.report.data import write_csv, write_findings, write_parquet
from audit.report.language import ENGLISH, Language
from audit.report.orders import write_orders
from audit.report.output import write_folder
from audit.report.pdf import PDF, write_pdf
from audit.report.runs import TOP_PAGE, write_run
from audit.report.site import Sheet, write_pages
from audit.report.templating import environment
from audit.report.view import Page, page

__all__ = ["render", "write"]

MANY_FRAMES = 300
"""From this many on a page in one file is too long to use."""


def render(result: Result, *, serials: bool = False, language: Language = ENGLISH) -> str:
    """All of it as one page's text; it needs no other file and no network."""
    return _single(page(result, serials=serials), language)


def _single(shown: Page, language: Language) -> str:
    sheet = Sheet(TOP_PAGE, shown.title, "report.html", TOP_PAGE, shown.drawings, shown.plates)
    return (
        environment(language=language)
        .get_template("report.html")
        .render(page=shown, sheet=sheet, marks={}, frame_level=4, detailed=False)
    )


def write(
    result: Result,
    out: Path,
    *,
    serials: bool = False,
    single: bool = False,
    pdf: bool = False,
    language: Language = ENGLISH,
) -> Path:
    """Writes report.html and the data files beside it (frames, findings, orders) into `out`, which it gives.

    report.html leads to the pages of this run, which lie in a folder of their own beside it; `single` makes
    it the whole report, for fewer than MANY_FRAMES frames; `pdf` adds report.pdf, which needs WeasyPrint.
    All of it appears whole or not at all. A folder that is not ours is an AuditError. Serial
    numbers are left out unless `serials`. `language` is that of the pages; the data files know only English.
    """
    if not single:
        return _write_run(result, out, serials, pdf, language)
    if len(result.frames) >= MANY_FRAMES:
        raise AuditError(
            f"--single: {len(result.frames)} frames are too many for one page (fewer than {MANY_FRAMES}); "
            "leave it out"
        )

    def fill(folder: Path) -> None:
        shown = page(result, serials=serials)
        (folder / TOP_PAGE).write_text(_single(shown, language), encoding="utf-8", newline="\n")
        if pdf:
            write_pdf(result, shown, folder / PDF, language=language)
        _write_data(result, folder, serials)

    return write_folder(out, fill)


def _write_run(result: Result, out: Path, serials: bool, pdf: bool, language: Language) -> Path:
    made: list[tuple[Page, Mapping[str, str]]] = []

    def fill_run(folder: Path) -> None:
        made.append(write_pages(result, folder, serials=serials, language=language))

    def fill_top(folder: Path, run: str) -> None:
        shown, places = made[0]
        words = environment(language=language).get_template("top.html").render(page=shown, run=run)
        (folder / TOP_PAGE).write_text(words, encoding="utf-8", newline="\n")
        if pdf:
            within = {anchor: f"{run}/{file}" for anchor, file in places.items()}
            write_pdf(result, shown, folder / PDF, run=run, places=within, language=language)
        _write_data(result, folder, serials)

    return write_run(out, fill_run, fill_top)


def _write_data(result: Result, folder: Path, serials: bool) -> None:
    write_parquet(result.frames, folder / "frames.parquet", serials=serials)
    write_csv(result.frames, folder / "frames.csv", serials=serials)
    write_findings(result, folder / "findings.json")
    write_orders(result, folder / "orders.csv")
