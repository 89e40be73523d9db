"""`cornerstop kit new`: a first kit.toml from the pictures, or one more trip's gear added to it."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from audit.cli import speak
from audit.cli.options import FOLDER, progress, reading, refuse_entangled, speaking
from audit.cli.pasted import command
from audit.cli.spoken import Command
from audit.errors import AuditError
from audit.message.shown import shown_line, shown_name

if TYPE_CHECKING:
    from audit.kit.found import FoundGear


@click.command(
    "new",
    cls=Command,
    epilog="\b\nExample:\n  cornerstop kit new ~/trips/skarven"
    "\n  cornerstop kit new ~/trips/lofoten --add --write",
)
@click.argument("dump", type=FOLDER)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="The kit file. Default: kit.toml beside DUMP; with --add the kit that audit finds.",
)
@click.option("--add", is_flag=True, help="Add the bodies and lenses that an existing kit lacks; shows them.")
@click.option("--write", "to_write", is_flag=True, help="With --add: write what is shown, and keep a backup.")
@reading
@speaking
def new_command(dump: Path, out: Path | None, add: bool, to_write: bool, as_json: bool, quiet: bool) -> int:
    """Write a kit.toml from what the pictures in DUMP say of bodies and lenses.

    What no picture tells (threads, rings, holders, filters) stands in it as comments to fill in. A kit that
    exists is never overwritten: --add adds what a later trip brought.
    """
    if to_write and not add:
        raise AuditError(
            f"--write goes with --add; a new kit is written at once: {command('kit', 'new', dump)}"
        )
    if add:
        return _add(dump, out, to_write, as_json, quiet)
    return _new(dump, out, as_json, quiet)


def _new(dump: Path, out: Path | None, as_json: bool, quiet: bool) -> int:
    from audit.declare import find_kit
    from audit.jobs.kit_new import kit_beside, new_kit
    from audit.kit.read import kit_places
    from audit.toml.text_file import put

    target = out or find_kit(dump) or kit_beside(dump)
    refuse_entangled(dump, kit=target)
    _refuse_taken(target, dump, named=out is not None)
    with progress("reading", quiet=quiet) as (reading,):
        made = new_kit(dump, reading)
    try:
        put(target, None, made.text)
    except AuditError as error:
        elsewhere = command("kit", "new", dump, "--out", kit_places(dump)[-1])
        raise AuditError(f"{error}; name another place, for instance: {elsewhere}") from None
    if as_json:
        speak.as_json({"kit": str(target), "still_to_fill_in": list(made.blanks), **_record(made.gear)})
    elif not quiet:
        speak.out(f"{shown_name(str(target))}: {_counted(made.gear)}, from {made.pictures} pictures")
        tell_blanks(made.blanks)
        bare = sum(lens.frames for lens in made.gear.lenses if lens.bare)
        if bare:
            speak.out(f"still to fill in: the lens without contacts of {bare} frames, a comment in the file")
        found = find_kit(dump)
        same = found is not None and found.resolve() == target.resolve()
        named = () if same else ("--kit", target)
        speak.out(f"fill these in, then: {command('kit', 'check', target)}")
        speak.out(f"and then: {command('draft', dump, *named)}")
    return 0


def _add(dump: Path, out: Path | None, to_write: bool, as_json: bool, quiet: bool) -> int:
    from audit.declare import find_kit
    from audit.jobs.kit_new import added_kit
    from audit.kit.write import write

    path = out or find_kit(dump)
    if path is None or not path.exists():
        where = "no kit was found" if path is None else f"{path}: there is no such kit"
        named = () if path is None else ("--out", path)
        raise AuditError(f"{where}; begin one with: {command('kit', 'new', dump, *named)}")
    refuse_entangled(dump, kit=path)
    with progress("reading", quiet=quiet) as (reading,):
        change, gear = added_kit(dump, path, reading)
    backup = write(change) if to_write and change.diff else None
    for model in gear.twins:
        speak.err(
            f'{shown_name(str(path))}: there is more than one "{shown_line(model[:200])}", and the kit gives '
            'no serial number of its own; add serial = "..." to that [[body]], then run the command again'
        )
    if as_json:
        speak.as_json({"kit": str(path), "diff": change.diff, "written": backup is not None, **_record(gear)})
    elif not quiet and change.diff:
        speak.out(change.diff, nl=False)
        named = ("--out", out) if out is not None else ()
        again = command("kit", "new", dump, "--add", *named, "--write")
        speak.out(
            f"backup: {shown_name(str(backup))}" if backup else f"nothing written yet; to write it: {again}"
        )
    elif not quiet:
        speak.out(f"{shown_name(str(path))}: has every body and lens of these pictures; nothing to add")
    return int(bool(gear.twins))


def _refuse_taken(target: Path, dump: Path, *, named: bool) -> None:
    """Refuses a file that is there: a kit is never overwritten."""
    option = ("--out", target) if named else ()
    if target.is_dir():
        better = command("kit", "new", dump, "--out", target / "kit.toml")
        raise AuditError(f"{target}: is a folder; name a file: {better}")
    if os.path.lexists(target):
        again = command("kit", "new", dump, "--add", *option)
        raise AuditError(
            f"{target}: is there already and is never overwritten; to add this trip's gear: {again}"
        )


def tell_blanks(blanks: Any) -> None:
    """One line for each thing that a kit still lacks."""
    for words in blanks:
        speak.out(f"still to fill in: {shown_line(words)}")


def _counted(gear: FoundGear) -> str:
    bodies, lenses = len(gear.bodies), len([lens for lens in gear.lenses if lens.focal_mm is not None])
    return f"{bodies} bod{'y' if bodies == 1 else 'ies'}, {lenses} lens{'' if lenses == 1 else 'es'}"


def _record(gear: FoundGear) -> dict[str, Any]:
    return {
        "bodies": [{"name": one.name, "model": one.model, "frames": one.frames} for one in gear.bodies],
        "lenses": [
            {"id": one.id, "exif": one.name, "focal_mm": one.focal_mm, "frames": one.frames}
            for one in gear.lenses
        ],
    }
