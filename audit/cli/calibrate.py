"""`cornerstop calibrate`: the depth of a lens' entrance pupil from test frames."""

from __future__ import annotations

from pathlib import Path

import click

from audit.cli import speak
from audit.cli.options import FILE, FOLDER, progress, reading, refuse_entangled, speaking
from audit.cli.pasted import no_kit
from audit.cli.spoken import Command
from audit.message.shown import shown_name


@click.command(
    "calibrate", cls=Command, epilog="\b\nExample:\n  cornerstop calibrate ~/tests/w20 --kit kit.toml --write"
)
@click.argument("folder", type=FOLDER)
@click.option(
    "--kit",
    type=FILE,
    help="Kit file. Default: kit.toml in the folder, beside it, or in the user's configuration.",
)
@click.option(
    "--declarations", type=FOLDER, help="Tree that mirrors the folder and holds its filters.toml files."
)
@click.option("--lens", help="Id of the lens, where the frames are of several.")
@click.option(
    "--svg", type=click.Path(path_type=Path), help="File for a drawing: measured against predicted."
)
@click.option("--write", is_flag=True, help="Write the values into the kit; a backup is kept beside it.")
@click.option(
    "--accept-implausible",
    is_flag=True,
    help="Write even what no lens is like, or frames disagree on.",
)
@reading
@speaking
def calibrate_command(
    folder: Path,
    kit: Path | None,
    declarations: Path | None,
    lens: str | None,
    svg: Path | None,
    write: bool,
    accept_implausible: bool,
    as_json: bool,
    quiet: bool,
) -> int:
    """Find how deep the entrance pupil of a lens lies, from frames in FOLDER.

    Photograph an even sky or wall with two or three rigs that darken the corners, a zoom at two or three
    focal lengths, at f/8 and wide open, and once bare at the same settings; write into filters.toml what was
    on. Without --write the change to the kit is only shown; exit code 1 when it was to be written and was
    not, since something speaks against it.
    """
    from audit.declare import find_kit
    from audit.disk.signed import put_signed
    from audit.jobs.calibrate import calibrate
    from audit.kit.write import plan
    from audit.kit.write import write as write_kit
    from audit.report import calibration as show

    path = kit or find_kit(folder)
    if path is None:
        raise no_kit(folder)
    refuse_entangled(folder, kit=path, declarations=declarations)
    with progress("reading", quiet=quiet) as (tick,):
        found = calibrate(folder, kit_path=path, declarations=declarations, lens=lens, progress=tick)
    change = plan(path, found.lens_id, found.values)
    if svg is not None:
        put_signed(svg, show.svg(found))
    if not as_json and not quiet:
        speak.out(show.text(found))
        held = f"{shown_name(str(path))}: holds these values already"
        speak.out(f"\n{change.diff or held}")
    held_back = write and bool(found.doubts) and not accept_implausible
    backup = write_kit(change) if write and change.diff and not held_back else None
    if as_json:
        written = {"kit": str(path), "diff": change.diff, "backup": str(backup) if backup else None}
        speak.as_json(show.as_json(found) | written)
    elif not quiet and change.diff:
        done = f"{shown_name(str(path))}: written; as it was: {shown_name(str(backup))}"
        why_not = "--accept-implausible writes what is doubtful" if held_back else "--write does it"
        speak.out(done if backup else f"nothing written; {why_not}")
    return int(held_back)
