"""`cornerstop audit`: a dump in, a report out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from audit.cli import speak
from audit.cli.options import (
    DUMPS,
    FILE,
    FOLDER,
    NO_CACHE,
    PIXELS,
    PLACE,
    reading,
    refuse_entangled,
    speaking,
    spreading,
    tell_left,
)
from audit.cli.pasted import begin_kit, command
from audit.cli.spoken import Command
from audit.cli.stages import left_out, whole_run
from audit.errors import OUR_FAULT, AuditError, grouped
from audit.message.shown import shown_line, shown_name

if TYPE_CHECKING:
    from audit.cli.bag import Asked
    from audit.disk.dumps import Dump
    from audit.disk.runs import PlacedRun
    from audit.pixels.sources import Mode
    from audit.report.picture_plan import Wish
    from audit.result import Result

DEFAULT_OUT = Path("cornerstop-report")


@click.command(
    "audit",
    cls=Command,
    epilog="\b\nExample:\n  cornerstop audit ~/trips/skarven --kit kit.toml --out report",
)
@DUMPS
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
    "--pictures",
    type=click.Choice(["found", "all", "none"]),
    help="Pictures that open larger: those of findings and keepers, all, or none. Default: found; "
    "none with --pixels off.",
)
@click.option(
    "--single",
    is_flag=True,
    help="Write the report as one plain file of at most 3 MB, to pass on: no script, so no choosing in it.",
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
@spreading
@reading
@speaking
def audit_command(
    dumps: tuple[Path, ...],
    kit: Path | None,
    out: Path | None,
    declarations: Path | None,
    pixels: Mode,
    place: tuple[float, float] | None,
    no_cache: bool,
    pictures: Wish | None,
    single: bool,
    as_pdf: bool,
    lang: str,
    with_serials: bool,
    as_json: bool,
    quiet: bool,
) -> int:
    """Audit DUMP and write a report (pages, frames.parquet, frames.csv, findings.json, orders.csv).

    Several dumps (two cards, two bodies, a copy on disk) are one trip, the same file twice is one frame; in
    the report folders then begin with the dump's name. A bag of `cornerstop archive` is a dump too.

    Each run lies in a folder of its own in --out; report.html there leads to the newest, and newest/ holds
    its data files. The two runs before it stay. Nothing is written into DUMP, unless --out names a folder in
    it. Exit code 1 when a finding asks you to act or to look, or when a declaration holds a mistake.
    """
    with whole_run(quiet=quiet, left_out=left_out(pixels)) as run:  # says so before anything heavy loads
        from audit import report
        from audit.cli.bag import asked
        from audit.jobs.audit import audit
        from audit.pixels.cache import default_cache
        from audit.report.language import Language

        cache = None if no_cache else default_cache()
        with asked(dumps, kit, declarations) as work:
            next_steps = _next_steps(work, kit, declarations)
            refuse_entangled(work.dump, kit=work.kit, declarations=declarations, cache=cache, pixels=pixels)
            target = _target(out, work.typed, as_pdf=as_pdf, inside=work.bag is None)
            language = Language(lang)
            result = audit(
                work.dump,
                kit_path=work.kit,
                declarations=work.declarations,
                skip=(target,),
                pixels=pixels,
                cache=cache,
                place=place,
                tick=run.tick,
                begin=run.begin,
            )
            told: dict[str, Any] = {"serials": with_serials, "single": single, "pictures": pictures}
            told |= {"pdf": as_pdf, "language": language, "begin": run.begin, "progress": run.tick}
            placed = report.write(work.titled(result), target, **told)
    return _tell(result, target, placed, next_steps, as_json=as_json, quiet=quiet)


def _target(out: Path | None, dump: Dump, *, as_pdf: bool, inside: bool) -> Path:
    """The folder of the report; what cannot be is told before minutes of auditing."""
    from audit.disk.apart import refuse_out
    from audit.disk.dumps import tops
    from audit.disk.report_folder import refuse_foreign
    from audit.report.pdf import require

    target = out or _default_out(dump)
    for top in tops(dump):
        refuse_out(target, top, inside=inside and len(tops(dump)) == 1)
    refuse_foreign(target)
    if as_pdf:
        require()
    return target


def _tell(
    result: Result,
    target: Path,
    placed: PlacedRun,
    next_steps: tuple[str, str],
    *,
    as_json: bool,
    quiet: bool,
) -> int:
    """What was found, and where the report is, in the words of --out; the exit code. Hints go to stderr."""
    from audit.report.hints import hints
    from audit.report.untold import terminal_lines, untold

    for line in grouped(result.mistakes):
        speak.err(line)
    tell_left(placed.left)
    if result.unkept:
        speak.err(f"nothing is kept for the next run: {shown_line(result.unkept)}")
    if as_json:
        speak.as_json((placed.run / "findings.json").read_text(encoding="utf-8"))
    elif not quiet:
        speak.out(summary(result))
        speak.out(f"report: {shown_name(str(target / placed.page.relative_to(placed.out)))}")
        pdf = placed.run / "report.pdf"
        if pdf.exists():
            speak.out(f"to print: {shown_name(str(target / pdf.relative_to(placed.out)))}")
        told = untold(result)
        for line in terminal_lines(told) if told is not None else ():
            speak.out(shown_line(line))
    for hint in () if quiet else hints(result, *next_steps):
        speak.err(hint)
    return exit_code(result)


def _next_steps(work: Asked, kit: Path | None, declarations: Path | None) -> tuple[str, str]:
    """The commands that begin a kit and declarations, with the real paths; nothing goes into a bag."""
    from audit.disk.dumps import resolved

    named = (("--kit", kit), ("--declarations", declarations))
    given = [word for option, path in named if path is not None for word in (option, path.resolve())]
    if work.bag is not None:
        begin = command("kit", "new", *resolved(work.dump), "--out", "kit.toml")
        given = given if declarations is not None else [*given, "--declarations", "notes"]
    else:
        begin = begin_kit(resolved(work.typed))
    return begin, command("draft", *resolved(work.typed), *given)


def _default_out(dump: Dump) -> Path:
    """The default folder, refused where it would lie inside the dump."""
    from audit.disk.apart import lies_in
    from audit.disk.dumps import tops

    if any(lies_in(DEFAULT_OUT, top) for top in tops(dump)):
        raise AuditError(
            f"{DEFAULT_OUT}: would lie inside the dump; name a folder with --out, like --out ../report"
        )
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
    if any(run.status == "failed" for run in result.checks):
        return OUR_FAULT
    wrong = any(m.level == "error" for m in result.mistakes)
    return int(wrong or any(f.level in ("act", "look") for f in result.findings))
