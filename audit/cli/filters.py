"""`cornerstop filters`: each filter's strength over a trip, held against its label."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from audit.cli import speak
from audit.cli.options import FILE, FOLDER, reading, refuse_entangled, speaking
from audit.cli.pasted import no_kit
from audit.cli.spoken import Command
from audit.cli.stages import left_out, whole_run
from audit.errors import AuditError, grouped
from audit.message.shown import shown_name

if TYPE_CHECKING:
    from audit.kit.write import KitChange
    from audit.pixels.sources import Mode


@click.command(
    "filters", cls=Command, epilog="\b\nExample:\n  cornerstop filters ~/trips/skarven --kit kit.toml --write"
)
@click.argument("dump", type=FOLDER)
@click.option(
    "--kit",
    type=FILE,
    help="Kit file. Default: kit.toml in the dump, beside it, or in the user's configuration.",
)
@click.option(
    "--declarations", type=FOLDER, help="Tree that mirrors the dump and holds its filters.toml files."
)
@click.option(
    "--pixels",
    type=click.Choice(["preview", "full"]),
    default="preview",
    show_default=True,
    help="What is measured: the pictures' embedded previews, or every picture decoded.",
)
@click.option("--no-cache", is_flag=True, help="Keep nothing for the next run, and use nothing kept.")
@click.option("--write", is_flag=True, help="Write what proved off into the kit; a backup is kept beside it.")
@reading
@speaking
def filters_command(
    dump: Path,
    kit: Path | None,
    declarations: Path | None,
    pixels: Mode,
    no_cache: bool,
    write: bool,
    as_json: bool,
    quiet: bool,
) -> int:
    """Measure the filters of a trip in the pictures of DUMP and hold them against their labels.

    A filter is measured where a frame with it and one declared bare show the same scene. One that proves off
    in 3 pairs or more of 2 scenes or more, by more than 0.2 stop and more than its range, may go into the kit
    as measured_stops, which then comes before the label. Without --write the change is only shown.
    """
    from audit.jobs.audit import audit
    from audit.kit.write import plan_all
    from audit.kit.write import write as write_kit
    from audit.pixels.cache import default_cache
    from audit.pixels.labels import labels
    from audit.report import labels as show

    path, cache = kit or _found_kit(dump), None if no_cache else default_cache()
    refuse_entangled(dump, kit=path, declarations=declarations, cache=cache, pixels=pixels)
    with whole_run(quiet=quiet, left_out=left_out(pixels, report=False)) as run:
        result = audit(
            dump,
            kit_path=path,
            declarations=declarations,
            pixels=pixels,
            cache=cache,
            tick=run.tick,
            begin=run.begin,
        )
    for line in grouped(result.mistakes):
        speak.err(line)
    if not result.filters:
        raise AuditError(f"{path}: has no filter that takes light; write its filters as [[filter]]")
    found = labels(result.filters, result.kit)
    change = plan_all(path, {(one.table, one.shown.filter): one.values for one in found if one.values})
    backup = write_kit(change) if write and change.diff else None
    if as_json:
        speak.as_json(_record(show.as_json(found), change, backup))
    elif not quiet:
        _tell(show.text(found), change, backup)
    return 0


def _found_kit(dump: Path) -> Path:
    from audit.declare import find_kit

    path = find_kit(dump)
    if path is None:
        raise no_kit(dump)
    return path


def _record(filters: list[dict[str, Any]], change: KitChange, backup: Path | None) -> dict[str, Any]:
    """The result as plain data."""
    written = {"kit": str(change.path), "diff": change.diff, "backup": str(backup) if backup else None}
    return {"filters": filters} | written


def _tell(words: str, change: KitChange, backup: Path | None) -> None:
    """What was measured, the change to the kit, and whether it was made."""
    speak.out(f"{words}\n")
    path = shown_name(str(change.path))
    if not change.diff:
        speak.out(f"{path}: nothing to change")
        return
    speak.out(change.diff)
    done = f"{path}: written; as it was: {shown_name(str(backup))}"
    speak.out(done if backup else "nothing written; --write does it")
