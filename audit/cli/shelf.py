"""`cornerstop shelf`: every trip on a shelf audited by itself, and one page that leads to all."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from audit.cli import speak
from audit.cli.options import (
    FILE,
    FOLDER,
    NO_CACHE,
    PIXELS,
    progress,
    reading,
    speaking,
    spreading,
    tell_left,
)
from audit.cli.spoken import Command
from audit.message.shown import shown_line, shown_name

if TYPE_CHECKING:
    from audit.disk.runs import PlacedRun
    from audit.scale.audits import Audits

DEFAULT_OUT = Path("cornerstop-shelf")
DEEPEST = 9


class Place(click.ParamType):
    """A folder that there is, or an address."""

    name = "folder"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """The word as it was typed."""
        from audit.scale.store import is_address

        return str(value) if is_address(str(value)) else str(FOLDER.convert(value, param, ctx))


@click.command(
    "shelf", cls=Command, epilog="\b\nExample:\n  cornerstop shelf ~/trips --out shelf --pixels off"
)
@click.argument("shelf", type=Place())
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help=f"Folder of the page and of all reports. Default: {DEFAULT_OUT}.",
)
@click.option(
    "--depth",
    type=click.IntRange(1, DEEPEST),
    default=1,
    show_default=True,
    help="How deep in SHELF the folders of trips lie; 2: SHELF/2026/skarven.",
)
@click.option(
    "--kit", type=FILE, help="Kit file of all trips. Default: each trip's own, or the one in SHELF."
)
@PIXELS
@NO_CACHE
@click.option(
    "--lang", default="en", show_default=True, metavar="CODE", help="Language of page and reports (en, de)."
)
@spreading
@reading
@speaking
def shelf_command(
    shelf: str,
    out: Path | None,
    depth: int,
    kit: Path | None,
    pixels: str,
    no_cache: bool,
    lang: str,
    as_json: bool,
    quiet: bool,
) -> int:
    """Audit every trip on SHELF by itself, and write one page that leads to all of their reports.

    A trip is a folder of SHELF; folders in which a camera went on within three hours (two cards, a second
    body's) are one trip. However many trips there are, only one for each worker is in memory. SHELF may be an
    address (s3://bucket/trips), whose folders are fetched one by one; that needs cornerstop[scale]. Nothing
    is written into SHELF. Exit code 1 when a trip asks you to act or to look, or could not be audited.
    """
    from audit.crew.crew import crew_at_work
    from audit.disk.apart import refuse_out
    from audit.jobs.shelf import audit_shelf
    from audit.pixels.cache import default_cache
    from audit.report.language import Language
    from audit.scale.page import write_page
    from audit.scale.store import is_address

    target, language = out or DEFAULT_OUT, Language(lang)
    if not is_address(shelf):
        refuse_out(target, Path(shelf), inside=False)
    crew = crew_at_work()
    words = ["--pixels", pixels, "--lang", lang, "--file-seconds", str(crew.limit_s)]
    words += ["--kit", str(kit.absolute())] if kit is not None else []
    words += ["--no-cache"] if no_cache else []
    with progress("reading folders", "auditing trips", quiet=quiet) as (read, done):
        found = audit_shelf(
            shelf,
            target,
            depth=depth,
            cache=None if no_cache else default_cache(),
            options=words,
            read=read,
            done=done,
        )
    _tell(found, write_page(found, target, language), target, as_json=as_json, quiet=quiet)
    return found.code


def _tell(found: Audits, placed: PlacedRun, target: Path, *, as_json: bool, quiet: bool) -> None:
    """What could not be audited, what there is, where the page is."""
    from audit.scale.page import data_text, summary

    for one in found.trips:
        if not one.run:
            speak.err(f"{shown_line(one.folders[0])}: not audited: {one.said}")
    tell_left(placed.left)
    if as_json:
        speak.as_json(data_text(found))
    elif not quiet:
        speak.out(" ".join(summary(found)))
        speak.out(f"page: {shown_name(str(target / placed.page.relative_to(placed.out)))}")
