"""A run in a folder of reports that is one page with its data beside it."""

from __future__ import annotations

from pathlib import Path

from audit.disk.building import Building
from audit.disk.runs import Doors, PlacedRun, add_run
from audit.report.language import Language
from audit.report.templating import environment, style_sheet

PAGE = "index.html"


def write_one_page(out: Path, page: str, data: tuple[str, str], door: str, language: Language) -> PlacedRun:
    """Writes a page, its style and its data (name and text) into the folder of reports `out`, whole or not.

    `door` is the template of what leads to it.
    """

    def fill(run: Building) -> None:
        run.write(PAGE, page)
        run.write("report.css", style_sheet())
        run.write(*data)

    leads = environment(language=language).get_template(door).render
    doors = Doors(
        entrance=lambda run: leads(address=f"../{run}/{PAGE}"), top=lambda address: leads(address=address)
    )
    return add_run(out, fill, doors)
