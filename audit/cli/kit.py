"""`cornerstop kit check`: the kit and the declarations, every mistake at once."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from audit.cli import speak
from audit.cli.kit_new import new_command, tell_blanks
from audit.cli.options import progress, reading, speaking
from audit.cli.pasted import no_kit
from audit.cli.spoken import Group
from audit.errors import grouped
from audit.message.shown import shown_line, shown_name

if TYPE_CHECKING:
    from audit.kit.kit import Kit


@click.group("kit", cls=Group, epilog="\b\nExample:\n  cornerstop kit check ~/trips/skarven")
def kit_group() -> None:
    """Work on the kit file."""


kit_group.add_command(new_command)


@kit_group.command("check", epilog="\b\nExample:\n  cornerstop kit check kit.toml")
@click.argument("path", type=click.Path(exists=True, path_type=Path), default=Path())
@reading
@speaking
def check_command(path: Path, as_json: bool, quiet: bool) -> int:
    """Check a kit file, or the kit and all declarations of a dump (PATH, default: here).

    Exit code 1 when there is a mistake; notes do not count. Of a dump's pictures only the EXIF is
    read, to name the bodies and lenses that the kit lacks.
    """
    from audit.declare import find_kit
    from audit.jobs.kit_assumed import assumed_lines
    from audit.jobs.kit_check import check_kit
    from audit.kit.blanks import blanks

    kit_path = find_kit(path) if path.is_dir() else path
    if kit_path is None:
        raise no_kit(path)
    with progress("reading", quiet=quiet) as (reading,):
        checked = check_kit(kit_path, path if path.is_dir() else None, reading)
    if as_json:
        speak.as_json([asdict(m) for m in (*checked.mistakes, *checked.notes)])
        return int(bool(checked.mistakes))
    lines = grouped(checked.mistakes)
    if checked.kit is not None and not lines and not quiet:
        lines.append(
            f"{shown_name(str(kit_path))}: no mistakes; {_gear(checked.kit)}; {_files(checked.spans)}"
        )
    if checked.kit is not None and not checked.mistakes and not quiet:
        lines += [f"note: {words}" for words in assumed_lines(checked.kit)]
    lines += [] if quiet else [f"note: {note}" for note in checked.notes]
    if lines:
        speak.out("\n".join(shown_line(line) for line in lines))
    if checked.kit is not None and not quiet:
        tell_blanks(blanks(checked.kit))
    return int(bool(checked.mistakes))


def _gear(kit: Kit) -> str:
    """How many of each the kit holds."""
    gear = (
        _count(len(kit.bodies), "body", "bodies"),
        _count(len(kit.lenses), "lens", "lenses"),
        _count(len(kit.rings), "ring", "rings"),
        _count(len(kit.holders), "holder", "holders"),
        _count(len(kit.filters), "filter", "filters"),
    )
    return ", ".join(gear)


def _files(number: int) -> str:
    return f"{_count(number, 'file', 'files')} of declarations"


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
