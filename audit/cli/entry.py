"""Entry point: the commands, and the one place where an outcome becomes an exit code."""

from __future__ import annotations

import os
import signal
import sys

import click

from audit import __version__
from audit.cli.audit import audit_command
from audit.cli.calibrate import calibrate_command
from audit.cli.completion import completion_command
from audit.cli.corners import corners_command
from audit.cli.demo import demo_command
from audit.cli.draft import draft_command
from audit.cli.explain import explain_command
from audit.cli.filters import filters_command
from audit.cli.kit import kit_group
from audit.errors import AuditError

NOTHING, CANNOT, OUR_FAULT, INTERRUPTED = 0, 2, 3, 130
EXIT_CODES = """\b
Exit codes:
  0    nothing to act on
  1    something to act on
  2    the job could not be done (wrong usage too)
  3    a fault of cornerstop
  130  interrupted"""


@click.group(epilog=EXIT_CODES + "\n\n\b\nExample:\n  cornerstop audit ~/trips/skarven --out report")
@click.version_option(__version__, prog_name="cornerstop")
def cli() -> None:
    """Audit a dump of pictures against the filters that were worn: exposure, corners, files."""


for command in (
    audit_command,
    draft_command,
    calibrate_command,
    corners_command,
    filters_command,
    kit_group,
    explain_command,
    demo_command,
    completion_command,
):
    cli.add_command(command)


def run(arguments: list[str] | None = None) -> int:
    """Runs one command and gives its exit code; every message of a failure is one line on stderr."""
    try:
        code = cli.main(arguments, prog_name="cornerstop", standalone_mode=False)
        return code if isinstance(code, int) else NOTHING
    except click.ClickException as error:
        error.show()
        return CANNOT
    except (click.Abort, KeyboardInterrupt):
        click.echo("interrupted; nothing was left half-written", err=True)
        return INTERRUPTED
    except AuditError as error:
        click.echo(str(error), err=True)
        return CANNOT
    except SystemExit:
        return NOTHING  # click leaves so where the reader of our output went away
    except Exception as error:
        if os.environ.get("CORNERSTOP_DEBUG"):
            raise
        kind = type(error).__name__
        click.echo(f"a fault of cornerstop: {kind}: {error} (CORNERSTOP_DEBUG=1 shows where)", err=True)
        return OUR_FAULT


def main() -> None:
    """The `cornerstop` command; being told to stop counts as an interrupt: nothing half-written stays."""
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    sys.exit(run())
