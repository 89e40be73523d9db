"""`cornerstop kit check`: the kit and the declarations, every mistake at once."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import click

from audit.cli import speak
from audit.cli.kit_new import new_command, tell_blanks
from audit.cli.options import speaking
from audit.cli.pasted import no_kit
from audit.cli.spoken import Group
from audit.message.shown import shown_line, shown_name


@click.group("kit", cls=Group, epilog="\b\nExample:\n  cornerstop kit check ~/trips/skarven")
def kit_group() -> None:
    """Work on the kit file."""


kit_group.add_command(new_command)


@kit_group.command("check", epilog="\b\nExample:\n  cornerstop kit check kit.toml")
@click.argument("path", type=click.Path(exists=True, path_type=Path), default=Path())
@speaking
def check_command(path: Path, as_json: bool, quiet: bool) -> int:
    """Check a kit file, or the kit and all declarations of a dump (PATH, default: here).

    Exit code 1 when there is a mistake. Pictures are not read.
    """
    from audit.declare import find_kit, load
    from audit.errors import DeclarationError
    from audit.kit.blanks import blanks

    kit_path = find_kit(path) if path.is_dir() else path
    if kit_path is None:
        raise no_kit(path)
    try:
        loaded = load(path if path.is_dir() else None, kit_path)
        mistakes, kit, spans = loaded.warnings, loaded.kit, loaded.declarations
    except DeclarationError as error:
        mistakes, kit, spans = error.mistakes, None, []
    if as_json:
        speak.as_json([asdict(m) for m in mistakes])
    elif mistakes:
        speak.out("\n".join(shown_line(str(m)) for m in mistakes))
    elif kit is not None and not quiet:
        gear = (
            _count(len(kit.bodies), "body", "bodies"),
            _count(len(kit.lenses), "lens", "lenses"),
            _count(len(kit.rings), "ring", "rings"),
            _count(len(kit.holders), "holder", "holders"),
            _count(len(kit.filters), "filter", "filters"),
        )
        files = _count(len(spans), "file", "files")
        speak.out(f"{shown_name(str(kit_path))}: no mistakes; {', '.join(gear)}; {files} of declarations")
    if kit is not None and not as_json and not quiet:
        tell_blanks(blanks(kit))
    return int(bool(mistakes))


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
