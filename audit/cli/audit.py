"""`cornerstop audit`: a dump in, a report out."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from audit.cli.options import FILE, FOLDER, NO_CACHE, PIXELS, PLACE, progress, speaking
from audit.errors import AuditError

if TYPE_CHECKING:
    from audit.measure.pixels.sources import Mode
    from audit.model.result import Result

DEFAULT_OUT = Path("cornerstop-report")


@click.command("audit", epilog="\b\nExample:\n  cornerstop audit ~/trips/skarven --kit kit.toml --out report")
@click.argument("dump", type=FOLDER)
@click.option(
    "--kit",
    type=FILE,
    help="Kit file. Default: kit.toml in the dump, beside it, or in the user's configuration.",
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder of the report. Default: cornerstop-report."
)
@click.option(
    "--declarations", type=FOLDER, help="Tree that mirrors the dump and holds its filters.toml files."
)
@PIXELS
@PLACE
@NO_CACHE
@click.option(
    "--single", is_flag=True, help="Write the report as one page in one file, for fewer than 300 frames."
)
@click.option(
    "--pdf", "as_pdf", is_flag=True, help="Write report.pdf too, to print from; needs cornerstop[pdf]."
)
@click.option(
    "--lang",
    default="en",
    show_default=True,
    metavar="CODE",
    help="Language of the report (en, de). CSV, JSON and what the terminal says stay English.",
)
@click.option("--with-serials", is_flag=True, help="Write serial numbers of bodies and lenses into the data.")
@speaking
def audit_command(
    dump: Path,
    kit: Path | None,
    out: Path | None,
    declarations: Path | None,
    pixels: Mode,
    place: tuple[float, float] | None,
    no_cache: bool,
    single: bool,
    as_pdf: bool,
    lang: str,
    with_serials: bool,
    as_json: bool,
    quiet: bool,
) -> int:
    """Audit DUMP and write a report (report.html, frames.parquet, frames.csv, findings.json, orders.csv).

    report.html leads to the pages of this run, in a folder of their own beside it; the two runs
    before it stay, unless --single writes the folder anew. Nothing is written into DUMP, unless --out names
    a folder in it. Exit code 1 when a finding asks you to act or to look, or when a declaration holds a
    mistake.
    """
    from audit import report
    from audit.measure.pixels.cache import default_cache
    from audit.pipeline import audit
    from audit.report.language import speaking as in_language
    from audit.report.output import refuse_foreign
    from audit.report.pdf import require

    target = out or _default_out(dump)
    refuse_foreign(target)  # what cannot be is told before minutes of auditing
    if as_pdf:
        require()
    with in_language(lang) as language:
        with progress("reading", "looking", quiet=quiet) as ticks:
            result = audit(
                dump,
                kit_path=kit,
                declarations=declarations,
                skip=(target,),
                pixels=pixels,
                cache=None if no_cache else default_cache(),
                place=place,
                progress=ticks[0],
                looking=ticks[1],
            )
        for mistake in result.mistakes:
            click.echo(str(mistake), err=True)
        report.write(result, target, serials=with_serials, single=single, pdf=as_pdf, language=language)
    _tell(result, target, as_json=as_json, quiet=quiet, as_pdf=as_pdf)
    return exit_code(result)


def _tell(result: Result, target: Path, *, as_json: bool, quiet: bool, as_pdf: bool) -> None:
    """Where the report is and what it says; hints go to stderr."""
    from audit.report.hints import hints
    from audit.report.templating import writable

    if as_json:
        sys.stdout.write((target / "findings.json").read_text(encoding="utf-8"))
    elif not quiet:
        click.echo(summary(result))
        click.echo(f"report: {writable(str(target / 'report.html'))}")
        if as_pdf:
            click.echo(f"to print: {writable(str(target / 'report.pdf'))}")
    if not quiet:
        for hint in hints(result):
            click.echo(hint, err=True)


def _default_out(dump: Path) -> Path:
    """The default folder, refused where it would lie inside the dump."""
    out = DEFAULT_OUT.resolve()
    if out.is_relative_to(dump.resolve()):
        raise AuditError(f"{DEFAULT_OUT}: would lie inside the dump; name a folder with --out")
    return DEFAULT_OUT


def summary(result: Result) -> str:
    """One line: frames, findings by level, and mistakes in kit and declarations where there are any."""
    levels = [f.level for f in result.findings]
    wrong = len(result.mistakes)
    return (
        f"{len(result.frames)} frames of {result.files_seen} files; "
        f"{levels.count('act')} to act on, {levels.count('look')} to look at, {levels.count('note')} notes"
        + (f"; {wrong} mistake{'' if wrong == 1 else 's'} in kit and declarations" if wrong else "")
    )


def exit_code(result: Result) -> int:
    """3 where a check of ours broke, 1 where there is something to act on or to look at, else 0."""
    if any(run.outcome.startswith("failed") for run in result.checks):
        return 3
    wrong = any(m.level == "error" for m in result.mistakes)
    return int(wrong or any(f.level in ("act", "look") for f in result.findings))
