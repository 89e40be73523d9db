"""The page of a season, as one run in a folder of reports."""

from __future__ import annotations

from pathlib import Path

from audit import __version__
from audit.disk.report_folder import real, refuse_foreign
from audit.disk.runs import PlacedRun
from audit.errors import AuditError
from audit.message.json_text import json_text
from audit.report.language import ENGLISH, Language
from audit.report.one_page import write_one_page
from audit.report.templating import environment
from audit.season.season import Season, record
from audit.season.told import summary, tables

DATA = "season.json"


def refuse_out(out: Path) -> None:
    """Raises AuditError where no page may be written: into an archive, or over what is not ours."""
    for folder in (real(out), *real(out).parents):
        if (folder / "bagit.txt").is_file():
            raise AuditError(f"{out}: lies in the archive {folder}; name another folder for the page")
    refuse_foreign(out)


def write_page(found: Season, out: Path, language: Language = ENGLISH) -> PlacedRun:
    """Writes the page and season.json into the folder of reports `out`; whole, or not at all."""
    refuse_out(out)
    data = DATA, data_text(found, named=False)
    return write_one_page(out, page_text(found, language), data, "season/door.html", language)


def page_text(found: Season, language: Language = ENGLISH) -> str:
    """The page alone."""
    values = {"summary": summary(found), "tables": tables(found), "version": __version__}
    return environment(language=language).get_template("season/season.html").render(**values)


def data_text(found: Season, *, named: bool) -> str:
    """season.json, which is passed on with the page, or what --json prints, where problems are `named`."""
    return json_text(record(found, named=named))
