"""`cornerstop demo`: an invented trip with planted mistakes, audited and held against its truth."""

from __future__ import annotations

from pathlib import Path

import click

from audit.cli import speak
from audit.cli.options import progress, speaking, tell_left
from audit.cli.spoken import Command
from audit.message.shown import shown_name


@click.command("demo", cls=Command, epilog="\b\nExample:\n  cornerstop demo --out /tmp/skarven")
@click.option("--out", type=click.Path(path_type=Path), default=Path("cornerstop-demo"), show_default=True)
@click.option(
    "--small",
    is_flag=True,
    help="Pictures of 900 x 600 pixels in place of 24 and 12 megapixels: sooner done, less disk.",
)
@speaking
def demo_command(out: Path, small: bool, as_json: bool, quiet: bool) -> None:
    """Write an invented trip, audit it, and say where the report is and what it found of what was planted.

    An earlier demo in the same folder is audited once more; what you changed or added there stays.
    """
    from audit.cli.audit import summary
    from audit.jobs.demo import demonstrate

    with progress("painting pictures", quiet=quiet) as (tick,):
        demo = demonstrate(out, small=small, progress=tick)
    tell_left(demo.left)
    page = out / "report" / demo.page.name
    if as_json:
        speak.as_json({"report": str(page), **demo.scored.as_dict()})
    elif not quiet:
        speak.out(summary(demo.result))
        speak.out(demo.scored.words())
        speak.out(f"report: {shown_name(str(page))}")
