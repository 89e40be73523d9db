"""`cornerstop sidecars`: what is known of each frame, into an XMP sidecar beside it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from audit.cli import speak
from audit.cli.options import (
    DUMPS,
    FILE,
    FOLDER,
    NO_CACHE,
    PIXELS,
    reading,
    refuse_entangled,
    speaking,
)
from audit.cli.spoken import Command
from audit.cli.stages import left_out, whole_run
from audit.errors import grouped
from audit.message.shown import shown_name

if TYPE_CHECKING:
    from audit.jobs.sidecars import Planned
    from audit.pixels.sources import Mode


@click.command(
    "sidecars",
    cls=Command,
    epilog="\b\nExample:\n  cornerstop sidecars ~/trips/skarven --kit kit.toml --write",
)
@DUMPS
@click.option("--kit", type=FILE, help="Kit file. Default: as for audit.")
@click.option(
    "--declarations", type=FOLDER, help="Tree that mirrors the dump and holds its filters.toml files."
)
@PIXELS
@NO_CACHE
@click.option(
    "--write", "to_write", is_flag=True, help="Write what is shown; a sidecar that exists keeps a backup."
)
@reading
@speaking
def sidecars_command(
    dumps: tuple[Path, ...],
    kit: Path | None,
    declarations: Path | None,
    pixels: Mode,
    no_cache: bool,
    to_write: bool,
    as_json: bool,
    quiet: bool,
) -> int:
    """Put what was worn and measured into an XMP sidecar beside each frame of DUMP.

    Shows what would change; --write does it. A sidecar that is there is merged into: all that others wrote
    stays, and what cornerstop wrote earlier is brought up to date. Pictures are never touched. docs/xmp.md
    names each property. Exit code 1 where a sidecar was left alone, or kit or declarations hold a mistake.
    """
    from audit.declare import find_kit
    from audit.disk.dumps import one_trip
    from audit.jobs.sidecars import plan_sidecars
    from audit.pixels.cache import default_cache
    from audit.xmp.change import Written, write_all

    dump = one_trip(dumps)
    cache = None if no_cache else default_cache()
    path = kit or find_kit(dump)
    refuse_entangled(dump, kit=path, declarations=declarations, cache=cache, pixels=pixels)
    with whole_run(quiet=quiet, left_out=left_out(pixels, report=False)) as run:
        planned = plan_sidecars(
            dump,
            kit_path=path,
            declarations=declarations,
            pixels=pixels,
            cache=cache,
            tick=run.tick,
            begin=run.begin,
        )
    for line in grouped(planned.mistakes):
        speak.err(line)
    done = write_all(planned.changes) if to_write else Written()
    left = [*planned.left, *done.left]
    for shown, why in left:
        speak.err(f"{shown_name(shown)}: left alone: {why}")
    if as_json:
        speak.as_json(_record(planned, left, done.backups, to_write))
    elif not quiet:
        _tell(planned, len(done.left), len(done.backups), to_write)
    return int(bool(left) or any(one.level == "error" for one in planned.mistakes))


def _tell(planned: Planned, refused: int, backups: int, written: bool) -> None:
    for change in planned.changes if not written else ():
        speak.out(change.diff, nl=False)
    new = sum(change.merged.before is None for change in planned.changes)
    changed = len(planned.changes) - new
    head = f"{planned.frames} frames: {new} sidecars new, {changed} changed, {planned.same} as they are"
    done = f"{len(planned.changes) - refused} written" if written else "nothing written (--write does)"
    kept = f"; as they were: {backups} beside them, named .xmp.bak" if backups else ""
    speak.out(f"{head}; {done}{kept}")


def _record(
    planned: Planned, left: list[tuple[str, str]], backups: dict[str, Path], written: bool
) -> dict[str, object]:
    return {
        "frames": planned.frames,
        "files": [
            {
                "path": change.place.shown,
                "new": change.merged.before is None,
                "diff": change.diff,
                "backup": str(backups[change.place.shown]) if change.place.shown in backups else None,
            }
            for change in planned.changes
        ],
        "as_they_are": planned.same,
        "left_alone": [{"path": shown, "why": why} for shown, why in left],
        "written": written,
    }
