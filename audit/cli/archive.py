"""`cornerstop archive`: a dump in, a bag out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from audit.cli import speak
from audit.cli.options import FILE, FOLDER, PIXELS, progress, reading
from audit.cli.spoken import Command
from audit.errors import AuditError
from audit.message.shown import shown_name

if TYPE_CHECKING:
    from audit.archive.source import SourceFile
    from audit.jobs.archive import Archived
    from audit.pixels.sources import Mode


@click.command(
    "archive",
    cls=Command,
    epilog="\b\nExample:\n  cornerstop archive ~/trips/skarven /media/archive/skarven"
    "\n  cornerstop archive --update /media/archive/skarven --declarations ~/notes/skarven",
)
@click.argument("dump", required=False, type=FOLDER, metavar="DUMP")
@click.argument("dests", metavar="DEST [DEST2]", nargs=-1, type=click.Path(path_type=Path))
@click.option(
    "--with",
    "more",
    type=FOLDER,
    multiple=True,
    help="Another card or day for the same bag. May be repeated.",
)
@click.option(
    "--update",
    "bag",
    type=FOLDER,
    metavar="BAG",
    help="Make no new bag: add DUMP to this one, if there is one, and judge it again, with --kit or "
    "--declarations as they are corrected.",
)
@click.option("--kit", type=FILE, help="Kit file. Default: as audit finds it.")
@click.option(
    "--declarations", type=FOLDER, help="Tree that mirrors the dump and holds its filters.toml files."
)
@PIXELS
@click.option("--once", is_flag=True, help="Keep files of the same bytes once; the others are listed.")
@click.option(
    "--rename",
    default="",
    metavar="PATTERN",
    help="Name pictures anew, like {date}-{time}-{camera}-{counter}; the old names are recorded.",
)
@click.option("--sha256", is_flag=True, help="Write a manifest of SHA-256 digests beside that of SHA-512.")
@click.option(
    "--xmp", is_flag=True, help="Add an XMP sidecar for each frame, merged with the card's own, which stay."
)
@click.option("--no-readback", is_flag=True, help="Do not read again from the disk what was written.")
@reading
@click.option("--quiet", "-q", is_flag=True, help="No progress and no summary.")
def archive_command(
    dump: Path | None,
    dests: tuple[Path, ...],
    more: tuple[Path, ...],
    bag: Path | None,
    kit: Path | None,
    declarations: Path | None,
    pixels: Mode,
    once: bool,
    rename: str,
    sha256: bool,
    xmp: bool,
    no_readback: bool,
    quiet: bool,
) -> int:
    """Copy every file of DUMP into the new folder DEST, with an audit of it, as a bag (RFC 8493).

    DEST appears only when it is whole, DEST.sha512 and DEST.log beside it; stopped, the same command goes on
    where it was. With DEST2 two bags are made in one reading. Nothing of DUMP is changed. Exit code 1 when a
    file could not be archived, 2 when a destination failed.
    """
    asked: dict[str, Any] = {"kit_path": kit, "declarations": declarations, "pixels": pixels}
    asked |= {"readback": not no_readback, "once": once}
    if bag is not None:
        if sha256 or rename or xmp:
            raise AuditError("--sha256, --rename and --xmp are for a new bag; an update goes on as it is")
        cards = (*([dump] if dump is not None else []), *_folders(dests), *more)
        return _update(bag, cards, asked, quiet=quiet)
    if dump is None or not dests:
        raise click.UsageError("Name a dump and a new folder, DUMP DEST, or a bag with --update.")
    return _archive(
        (dump, *more), dests, {**asked, "sha256": sha256, "rename": rename, "xmp": xmp}, quiet=quiet
    )


def _archive(dumps: tuple[Path, ...], dests: tuple[Path, ...], asked: dict[str, Any], *, quiet: bool) -> int:
    from audit.disk.dumps import one_trip
    from audit.jobs.archive import archive

    with progress("copying", quiet=quiet) as (copying,):
        made = archive(one_trip(dumps), *dests, **asked, progress=copying)
    if made is None:
        for dest in dests:
            speak.out(
                f"{shown_name(str(dest))}: an earlier run had made it whole; cornerstop verify says more"
            )
        return 0
    _tell(made, quiet=quiet)
    for dest, error in made.lost:
        speak.err(f"{error}")
        speak.err(f"{shown_name(str(dest))}: not made; name it alone to go on with it")
    return 2 if made.lost else int(bool(made.left))


def _folders(paths: tuple[Path, ...]) -> Iterator[Path]:
    for path in paths:
        if not path.is_dir():
            raise AuditError(
                f"{shown_name(str(path))}: no such folder; name the folder that holds the pictures"
            )
        yield path


def _update(bag: Path, cards: tuple[Path, ...], asked: dict[str, Any], *, quiet: bool) -> int:
    from audit.jobs.archive_update import update

    with progress("copying", quiet=quiet) as (copying,):
        done = update(bag, cards, **asked, progress=copying)
    _tell_left(done.left)
    name = shown_name(str(bag))
    if not done.logged:
        speak.err(f"{name}.log: cannot be written, or is not ours; no line was added")
    if not quiet:
        if done.ended:
            speak.out(f"{name}: an update that had been stopped was {done.ended}")
        known = "what is known of the pictures is made anew" if done.changed else "what is known is as it was"
        speak.out(f"{name}: {done.copied} files more; {len(done.left)} not archived; {known}; {done.checked}")
    return int(bool(done.left))


def _tell_left(left: Sequence[SourceFile]) -> None:
    for file in left:
        name = shown_name(file.name.decode("utf-8", "surrogateescape"))
        speak.err(f"{name}: not archived: {file.problem}")


def _tell(made: Archived, *, quiet: bool) -> None:
    _tell_left(made.left)
    for shown, why in made.unmerged:
        speak.err(f"{shown_name(shown)}: archived as it is, but not merged: {why}")
    for bag in made.unlogged:
        speak.err(f"{shown_name(str(bag))}.log: cannot be written, or is not ours; no line was added")
    if quiet:
        return
    for bag in made.bags:
        speak.out(
            f"{shown_name(str(bag))}: {made.files} files, {made.bytes} bytes, {made.copied} copied in this "
            f"run; {len(made.left)} not archived; {made.checked}"
        )
    if made.twins:
        count = "1 file has" if made.twins == 1 else f"{made.twins} files have"
        speak.out(f"{count} the bytes of another, see data/knowledge/duplicates.csv")
    if made.gone > 0:
        speak.out(f"{made.gone} files that an earlier run copied are no longer in the dump; they stay")
