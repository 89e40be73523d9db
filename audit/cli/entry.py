"""The commands, and the one place where an outcome becomes an exit code."""

from __future__ import annotations

import os
import sys
import traceback

import click

from audit import __version__
from audit.cli import speak
from audit.cli.archive import archive_command
from audit.cli.audit import audit_command
from audit.cli.calibrate import calibrate_command
from audit.cli.completion import COMPLETE, complete, completion_command
from audit.cli.corners import corners_command
from audit.cli.demo import demo_command
from audit.cli.draft import draft_command
from audit.cli.explain import explain_command
from audit.cli.filters import filters_command
from audit.cli.kit import kit_group
from audit.cli.season import season_command
from audit.cli.shelf import shelf_command
from audit.cli.sidecars import sidecars_command
from audit.cli.spoken import Group
from audit.cli.verify import verify_command
from audit.disk import interrupt
from audit.errors import CANNOT, NOTHING, OUR_FAULT, AuditError, DeclarationError, grouped
from audit.start import CODE, LINE

INTERRUPTED = CODE
NAME = "cornerstop"
EXIT_CODES = """\b
Exit codes:
  0    nothing to act on
  1    something to act on
  2    the job could not be done (wrong usage too)
  3    a fault of cornerstop
  130  interrupted"""


def _version(context: click.Context, _option: click.Parameter, wanted: bool) -> None:
    if wanted and not context.resilient_parsing:
        speak.out(f"{NAME}, version {__version__}")
        context.exit()


@click.group(
    cls=Group, epilog=EXIT_CODES + "\n\n\b\nExample:\n  cornerstop audit ~/trips/skarven --out report"
)
@click.option(
    "--version",
    is_flag=True,
    expose_value=False,
    is_eager=True,
    callback=_version,
    help="Show the version and exit.",
)
def cli() -> None:
    """Audit a dump of pictures against the filters that were worn: exposure, corners, files."""


for command in (
    audit_command,
    draft_command,
    calibrate_command,
    corners_command,
    filters_command,
    sidecars_command,
    kit_group,
    explain_command,
    demo_command,
    archive_command,
    verify_command,
    season_command,
    shelf_command,
    completion_command,
):
    cli.add_command(command)


def main() -> None:
    """Runs the command of this process; once its code is known, nothing interrupts any more."""
    interrupt.begin()
    code = run()
    interrupt.settle()
    sys.exit(code)


def run(arguments: list[str] | None = None) -> int:
    """Runs one command and gives its exit code; every message of a failure is one line on stderr."""
    try:
        code = _command(sys.argv[1:] if arguments is None else list(arguments))
    except BaseException as error:
        stopped = interrupt.asked() or isinstance(error, (KeyboardInterrupt, click.Abort))
        code = INTERRUPTED if stopped else _failed(error)
    if interrupt.asked() or code == INTERRUPTED:
        speak.err(LINE)
        return INTERRUPTED
    return code


def _command(arguments: list[str]) -> int:
    """Click's own main is not called: it would put an empty line before that of an interrupt."""
    if os.environ.get(COMPLETE):
        return complete(cli)
    if os.name == "nt":
        arguments = [os.path.expanduser(word) for word in arguments]  # noqa: PTH111 (a word, no path)
    try:
        with cli.make_context(NAME, arguments) as context:
            code = cli.invoke(context)
    except click.exceptions.Exit as left:
        return left.exit_code
    return code if isinstance(code, int) else NOTHING


def _failed(error: BaseException) -> int:
    """Says what an error means to the user."""
    match error:
        case click.ClickException():
            _misused(error)
        case DeclarationError():
            for line in grouped(error.mistakes):
                speak.err(line)
        case AuditError():
            speak.err(str(error))
        case _ if os.environ.get("CORNERSTOP_DEBUG"):
            speak.err("".join(traceback.format_exception(error)).rstrip("\n"), lines=True)
        case _:
            words = f"{type(error).__name__}: {error}"
            speak.err(f"a fault of cornerstop: {words} (CORNERSTOP_DEBUG=1 shows where)")
    return CANNOT if isinstance(error, (click.ClickException, AuditError)) else OUR_FAULT


def _misused(error: click.ClickException) -> None:
    """The usage, what was wrong, and where to find help; without any word of a command, the help."""
    context = error.ctx if isinstance(error, click.UsageError) else None
    if isinstance(error, click.exceptions.NoArgsIsHelpError):
        speak.err(error.format_message(), lines=True)
        return
    if context is None:
        speak.err(f"Error: {error.format_message()}", lines=True)
        return
    speak.err(f"{context.get_usage()}\n", lines=True)
    message = error.format_message().rstrip(".")
    speak.err(f"Error: {message}; see: {context.command_path} --help", lines=True)
