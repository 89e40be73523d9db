"""`cornerstop archive`: a dump in, a bag out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from audit.cli import speak
from audit.cli.options import FILE, FOLDER, PIXELS, progress
from audit.cli.spoken import Command
from audit.message.shown import shown_name

if TYPE_CHECKING:
    from audit.pixels.sources import Mode


@click.command(
    "archive",
    cls=Command,
    epilog="\b\nExample:\n  cornerstop archive ~/trips/skarven /media/archive/skarven",
)
@click.argument("dump", type=FOLDER)
@click.argument("dest", type=click.Path(path_type=Path))
@click.option("--kit", type=FILE, help="Kit file. Default: as audit finds it.")
@click.option(
    "--declarations", type=FOLDER, help="Tree that mirrors the dump and holds its filters.toml files."
)
@PIXELS
@click.option("--no-readback", is_flag=True, help="Do not read again from the disk what was written.")
@click.option("--quiet", "-q", is_flag=True, help="No progress and no summary.")
def archive_command(
    dump: Path,
    dest: Path,
    kit: Path | None,
    declarations: Path | None,
    pixels: Mode,
    no_readback: bool,
    quiet: bool,
) -> int:
    """Copy every file of DUMP into the new folder DEST, with an audit of it, as a bag (RFC 8493).

    DEST appears only when it is whole, DEST.sha512 and DEST.log beside it; stopped, the same command goes on
    where it was. Nothing of DUMP is changed. Exit code 1 when a file could not be archived.
    """
    from audit.jobs.archive import archive

    with progress("copying", quiet=quiet) as (copying,):
        made = archive(
            dump,
            dest,
            kit_path=kit,
            declarations=declarations,
            pixels=pixels,
            readback=not no_readback,
            progress=copying,
        )
    if made is None:
        speak.out(f"{shown_name(str(dest))}: an earlier run had made it whole; cornerstop verify says more")
        return 0
    for file in made.left:
        name = shown_name(file.name.decode("utf-8", "surrogateescape"))
        speak.err(f"{name}: not archived: {file.problem}")
    if not made.logged:
        speak.err(f"{shown_name(str(dest))}.log: cannot be written, or is not ours; no line was added")
    if not quiet:
        speak.out(
            f"{shown_name(str(dest))}: {made.files} files, {made.bytes} bytes, {made.copied} copied in this "
            f"run; {len(made.left)} not archived; {made.checked}"
        )
        if made.gone > 0:
            speak.out(f"{made.gone} files that an earlier run copied are no longer in the dump; they stay")
    return int(bool(made.left))
