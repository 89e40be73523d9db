"""The page of a season, as one run in a folder of reports."""

from __future__ import annotations

import json
from pathlib import Path

from audit import __version__
from audit.disk.building import Building
from audit.disk.report_folder import real, refuse_foreign
from audit.disk.runs import Doors, PlacedRun, add_run
from audit.errors import AuditError
from audit.message.shown import writable_json
from audit.report.language import ENGLISH, Language
from audit.report.templating import environment, style_sheet
from audit.season.season import Season, record
from audit.season.told import summary, tables

PAGE, DATA = "index.html", "season.json"


def refuse_out(out: Path) -> None:
    """Raises AuditError where no page may be written: into an archive, or over what is not ours."""
    for folder in (real(out), *real(out).parents):
        if (folder / "bagit.txt").is_file():
            raise AuditError(f"{out}: lies in the archive {folder}; name another folder for the page")
    refuse_foreign(out)


def write_page(found: Season, out: Path, language: Language = ENGLISH) -> PlacedRun:
    """Writes the page and season.json into the folder of reports `out`; whole, or not at all."""
    refuse_out(out)

    def fill(run: Building) -> None:
        run.write(PAGE, page_text(found, language))
        run.write("report.css", style_sheet())
        run.write(DATA, data_text(found, named=False))

    door = environment(language=language).get_template("season/door.html").render
    doors = Doors(
        entrance=lambda run: door(address=f"../{run}/{PAGE}"), top=lambda address: door(address=address)
    )
    return add_run(out, fill, doors)


def page_text(found: Season, language: Language = ENGLISH) -> str:
    """The page alone."""
    values = {"summary": summary(found), "tables": tables(found), "version": __version__}
    return environment(language=language).get_template("season/season.html").render(**values)


def data_text(found: Season, *, named: bool) -> str:
    """season.json, which is passed on with the page, or what --json prints, where problems are `named`."""
    return (
        writable_json(json.dumps(record(found, named=named), ensure_ascii=False, indent=1, allow_nan=False))
        + "\n"
    )
