"""Collects every message of the report for translators: audit/locale/report.pot, merged into each *.po there.

`make docs` runs it; `make untranslated` counts what a language lacks, which a report shows in English.
Messages stand in the templates (trans blocks, `_`), in code (`say`, `plural`, `marked`), beside the checks,
and as names of columns.
"""

from __future__ import annotations

import inspect
import sys
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po

from audit.check import load_checks
from audit.report.values import SOURCES, column_words, shown_columns
from audit.report.view_kit import kit_words

ROOT = Path(__file__).resolve().parents[1]
LOCALE = ROOT / "audit" / "locale"
METHODS = [("audit/**.py", "python"), ("templates/**.html", "jinja2"), ("templates/**.svg", "jinja2")]
OPTIONS = {"templates/**": {"trimmed": "true", "newstyle_gettext": "true"}}
KEYWORDS = {"say": None, "marked": None, "plural": (2, 3), "_": None, "gettext": None, "ngettext": (1, 2)}


def collected() -> Catalog:
    """All messages; the same code gives the same catalogue."""
    catalog = Catalog(project="cornerstop", charset="utf-8", header_comment=HEADER)
    found = extract_from_dir(str(ROOT), METHODS, OPTIONS, KEYWORDS, ("Translators:",))
    for file, _, message, comments, _ in sorted(found, key=lambda one: (one[0], one[1])):
        catalog.add(message, locations=[(file, 0)], auto_comments=comments)
    for place, text in _beside():
        catalog.add(text, locations=[(place, 0)])
    return catalog


HEADER = "# Messages of cornerstop's report; written by docs/catalogue.py."


def _beside() -> Iterator[tuple[str, str]]:
    """Texts that stand in code as data: where, and the text."""
    for check in load_checks():
        info = check.info
        place = f"audit/checks/{info.id.replace('-', '_')}.py"
        for text in (info.title, info.why, info.threshold, info.source, info.advice):
            yield place, inspect.cleandoc(text)
    for words in SOURCES.values():
        yield "audit/report/values.py", words
    for column in shown_columns():
        yield "audit/table/columns.py", column_words(column)
    for words in kit_words():
        yield "audit/kit/kit.py", words


def template() -> str:
    """report.pot."""
    return _written(collected())


def merged(path: Path) -> str:
    """A language's file with the messages as they are now; what is new is empty, what is gone is dropped."""
    with path.open("rb") as file:
        catalog = read_po(file)
    catalog.update(collected(), no_fuzzy_matching=True, update_header_comment=False)
    catalog.obsolete.clear()
    return _written(catalog)


def _written(catalog: Catalog) -> str:
    """Without line numbers and dates, which would change with every edit, and headers nobody fills."""
    made = BytesIO()
    write_po(made, catalog, width=110, include_lineno=False, sort_output=True)
    lines = made.getvalue().decode("utf-8").splitlines(keepends=True)
    idle = ("POT-Creation-Date", "PO-Revision-Date", "Generated-By", "Last-Translator", "Language-Team")
    left_out = tuple(f'"{key}:' for key in (*idle, "Project-Id-Version", "Report-Msgid-Bugs-To"))
    return "".join(line for line in lines if not line.startswith(left_out))


def untranslated(path: Path) -> list[str]:
    """Messages of the code that a language's file does not tell."""
    with path.open("rb") as file:
        catalog = read_po(file)
    told = {m.id for m in catalog if all(m.string if m.pluralizable else [m.string]) and not m.fuzzy}
    return [m.id if isinstance(m.id, str) else m.id[0] for m in collected() if m.id and m.id not in told]


def pages() -> dict[Path, str]:
    """Every file that is written from the code."""
    return {LOCALE / "report.pot": template(), **{path: merged(path) for path in sorted(LOCALE.glob("*.po"))}}


if __name__ == "__main__":
    for each in sorted(LOCALE.glob("*.po")):
        missing = untranslated(each)
        head = f"{each.name}: {len(missing)} messages are still in English"
        sys.stdout.write("\n  ".join([head, *missing]) + "\n")
