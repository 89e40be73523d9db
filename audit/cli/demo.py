"""`cornerstop demo`: an invented trip with planted mistakes, audited and held against its truth."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import click

from audit.cli.audit import summary
from audit.cli.options import progress, speaking
from audit.errors import AuditError

MARKER = ".cornerstop-demo"


@click.command("demo", epilog="\b\nExample:\n  cornerstop demo --out /tmp/skarven")
@click.option("--out", type=click.Path(path_type=Path), default=Path("cornerstop-demo"), show_default=True)
@speaking
def demo_command(out: Path, as_json: bool, quiet: bool) -> None:
    """Write an invented trip, audit it, and say where the report is and what it found of what was planted."""
    from audit import report
    from audit.demo import write_trip
    from audit.demo.score import score
    from audit.pipeline import audit

    with progress("painting pictures", quiet=quiet) as (tick,):
        _write(out, write_trip, tick)
    dump = out / "trip"
    result = audit(dump)
    page = report.write(result, out / "report") / "report.html"
    truth = json.loads((out / "truth.json").read_text(encoding="utf-8"))
    scored = score(truth, [(f.check, f.level, f.frames) for f in result.findings])
    if as_json:
        click.echo(json.dumps({"report": str(page), **scored.as_dict()}, indent=2))
    elif not quiet:
        click.echo(summary(result))
        click.echo(scored.words())
        click.echo(f"report: {page}")


def _write(out: Path, write_trip: Callable[..., Path], tick: Callable[[int, int], None] | None) -> None:
    """Writes the trip beside `out` and moves it there whole; only an earlier demo is ever replaced."""
    if out.exists() and not (out / MARKER).is_file() and (not out.is_dir() or any(out.iterdir())):
        raise AuditError(f"{out}: holds files that are not an earlier demo's; name another folder with --out")
    part = out.with_name(out.name + ".part")
    shutil.rmtree(part, ignore_errors=True)
    try:
        write_trip(part, progress=tick)
        (part / MARKER).write_text(
            "Written by cornerstop demo; replaced by the next one.\n", encoding="utf-8"
        )
        if out.exists():
            shutil.rmtree(out)
        part.rename(out)
    finally:
        shutil.rmtree(part, ignore_errors=True)
