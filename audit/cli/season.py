"""`cornerstop season`: many archives as one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from audit.cli import speak
from audit.cli.options import FOLDER, speaking, tell_left
from audit.cli.spoken import Command
from audit.errors import AuditError
from audit.message.shown import shown_line, shown_name

if TYPE_CHECKING:
    from audit.report.language import Language
    from audit.season.book import Book
    from audit.season.season import Season

DEFAULT_OUT = Path("cornerstop-season")
MOST_ROWS = 1_000_000


@click.command(
    "season",
    cls=Command,
    epilog="\b\nExample:\n  cornerstop season /media/archive --out season\n"
    '  cornerstop season /media/archive --sql "SELECT year(captured_at), count(*) FROM frames GROUP BY ALL"',
)
@click.argument("folders", type=FOLDER, nargs=-1, required=True, metavar="FOLDER...")
@click.option("--out", type=click.Path(path_type=Path), help=f"Folder of the page. Default: {DEFAULT_OUT}.")
@click.option(
    "--sql", metavar="SELECT", help="Put one question to the views of docs/season.md; writes no page."
)
@click.option("--csv", "as_csv", is_flag=True, help="With --sql: print the answer as CSV.")
@click.option(
    "--rows",
    type=click.IntRange(1, MOST_ROWS),
    default=1000,
    show_default=True,
    help="With --sql: most rows of an answer.",
)
@click.option(
    "--lang", default="en", show_default=True, metavar="CODE", help="Language of the page (en, de)."
)
@speaking
def season_command(
    folders: tuple[Path, ...],
    out: Path | None,
    sql: str | None,
    as_csv: bool,
    rows: int,
    lang: str,
    as_json: bool,
    quiet: bool,
) -> int:
    """Compare all archives at or below FOLDER: what was worn, what cut, what drifts, what was lost.

    An archive is what `cornerstop archive` makes. Only columns that are asked for are read; the same frame in
    two archives counts once. Exit code 1 when an archive had to be left out. Needs cornerstop[season].
    """
    from audit.report.language import Language
    from audit.season.book import open_book
    from audit.season.page import refuse_out
    from audit.season.season import answered

    if as_csv and (sql is None or as_json):
        raise AuditError("--csv goes with --sql, and not with --json; leave it out")
    language, target = Language(lang), out or DEFAULT_OUT
    if sql is None:
        refuse_out(target)
    elif out is not None:
        raise AuditError("--sql writes no page; leave --out out")
    book = open_book(folders, everything=sql is not None)
    if sql is not None:
        _ask(book, sql, rows, as_csv=as_csv, as_json=as_json)
    else:
        _tell(answered(book), target, language, as_json=as_json, quiet=quiet)
    return _problems(book)


def _ask(book: Book, sql: str, rows: int, *, as_csv: bool, as_json: bool) -> None:
    from audit.season import ask

    answer = ask.ask(book.database, sql, rows)
    if as_json:
        speak.as_json(ask.as_records(answer))
    else:
        speak.out(ask.as_csv(answer) if as_csv else ask.as_table(answer), nl=not as_csv)
    if answer.more:
        speak.err(f"--sql: there are more than {rows} rows; --rows shows more of them")


def _tell(found: Season, target: Path, language: Language, *, as_json: bool, quiet: bool) -> None:
    """Writes the page, and says what is on it."""
    from audit.season.page import data_text, write_page
    from audit.season.terminal import lines, room

    placed = write_page(found, target, language)
    tell_left(placed.left)
    if as_json:
        speak.as_json(data_text(found, named=True))
    elif not quiet:
        speak.out("\n".join(lines(found, room())))
        speak.out(f"\npage: {shown_name(str(target / placed.page.relative_to(placed.out)))}")


def _problems(book: Book) -> int:
    """Names every archive that is not whole; the exit code."""
    from audit.season.terminal import problem_lines

    for line in problem_lines(book.problems):
        speak.err(shown_line(line))
    return int(bool(book.problems))
