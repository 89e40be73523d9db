"""Writes the report: pages (or one), and the data files beside them, as one run in a folder of reports."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

from audit.crew.crew import crew_at_work
from audit.disk.building import Building
from audit.disk.runs import TOP_PAGE, Doors, PlacedRun, add_run
from audit.exposure.partitions import partition_of
from audit.report.data import csv_parts, findings_text, parquet_bytes
from audit.report.language import ENGLISH, Language
from audit.report.orders import orders_text
from audit.report.pdf import PDF, pdf_bytes
from audit.report.picture_plan import Wish
from audit.report.pictures import Progress
from audit.report.since import read_before
from audit.report.single import single_page
from audit.report.site import FRONT, write_pages
from audit.report.templating import environment
from audit.report.view import Page, page
from audit.result import Result

PARTS = "frames"
"""Folder of the table by partitions, where a cluster is at work."""

__all__ = ["render", "write"]


def render(result: Result, *, serials: bool = False, language: Language = ENGLISH) -> str:
    """All of it as one page's text; it needs no other file and no network."""
    return single_page(result, page(result, serials=serials), language)


def write(
    result: Result,
    out: Path,
    *,
    serials: bool = False,
    single: bool = False,
    pdf: bool = False,
    language: Language = ENGLISH,
    pictures: Wish | None = None,
    begin: Callable[[str], None] = lambda stage: None,
    progress: Progress | None = None,
) -> PlacedRun:
    """Writes a run into the folder of reports `out`: pages and data files (frames, findings, orders).

    `single` makes it one plain file of at most 3 MB; `pdf` adds report.pdf, which needs
    WeasyPrint. All of it appears whole or not at all, and `out/newest` and `out/report.html` then lead to it.
    A folder that is not ours is an AuditError. Serial numbers are left out unless `serials`. `language` is
    that of the pages; the data files know only English. `pictures` says whose pictures open larger ("found",
    "all", "none"; in one page none do): those of what was found, unless pixels are off. `begin` gets the code
    of each stage when it begins (showing, describing, writing), `progress` (done, in all) of that stage.
    """
    made: list[Page] = []
    before = read_before(out)

    def fill(run: Building) -> None:
        places = None
        if single:
            begin("describing")
            shown = page(result, serials=serials, before=before)
            begin("writing")
            run.write(TOP_PAGE, single_page(result, shown, language))
        else:
            ask = partial(write_pages, wish=_wish(pictures, result), begin=begin, progress=progress)
            shown, places = ask(result, run, serials=serials, language=language, before=before)
        if pdf:
            run.write(PDF, pdf_bytes(result, shown, run.path, places=places, language=language))
        _write_data(result, run, serials)
        made.append(shown)

    first = TOP_PAGE if single else FRONT
    door = environment(language=language).get_template("top.html").render
    doors = Doors(
        entrance=lambda run: door(page=made[0], address=f"../{run}/{first}"),
        top=lambda address: door(page=None, address=address),
    )
    placed = add_run(out, fill, doors)
    return replace(placed, page=placed.run / TOP_PAGE) if single else placed


def _wish(asked: Wish | None, result: Result) -> Wish:
    return asked or ("none" if result.pixels == "off" else "found")


def _write_data(result: Result, run: Building, serials: bool) -> None:
    run.write("frames.parquet", parquet_bytes(result.frames, serials=serials))
    if crew_at_work().far:
        for number, (_, part) in enumerate(result.frames.groupby(partition_of(result.frames)), start=1):
            run.write(f"{PARTS}/{number:06}.parquet", parquet_bytes(part, serials=serials))
    run.write("frames.csv", csv_parts(result.frames, serials=serials))
    run.write("findings.json", findings_text(result))
    run.write("orders.csv", orders_text(result))
