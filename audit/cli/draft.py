"""`cornerstop draft`: a card without notes in, a declaration to correct out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from audit.cli import speak
from audit.cli.options import FILE, FOLDER, NO_CACHE, PIXELS, PLACE, progress, refuse_entangled, speaking
from audit.cli.spoken import Command
from audit.errors import AuditError
from audit.message.shown import shown_line, shown_name

if TYPE_CHECKING:
    from audit.jobs.draft import Drafted
    from audit.pixels.sources import Mode


@click.command(
    "draft",
    cls=Command,
    epilog="\b\nExample:\n  cornerstop draft ~/trips/skarven --declarations ~/notes/skarven --write",
)
@click.argument("dump", type=FOLDER)
@click.option("--kit", type=FILE, help="Kit file. Default: as for audit.")
@click.option(
    "--declarations",
    type=click.Path(file_okay=False, path_type=Path),
    help="Tree that mirrors the dump: read, and written into instead of the dump.",
)
@PLACE
@PIXELS
@NO_CACHE
@click.option(
    "--write", "to_write", is_flag=True, help="Write the drafts; a file that exists keeps a backup."
)
@speaking
def draft_command(
    dump: Path,
    kit: Path | None,
    declarations: Path | None,
    place: tuple[float, float] | None,
    pixels: Mode,
    no_cache: bool,
    to_write: bool,
    as_json: bool,
    quiet: bool,
) -> int:
    """Draft filters.toml for the frames of DUMP that no declaration covers, from their exposures.

    Prints what would be written, and the questions that would settle most. A declaration that exists is only
    added to. Drafted spans say source = "estimated" until you take that line out. Exit code 1 when frames are
    left that the exposures cannot tell.
    """
    from audit.declare import find_kit
    from audit.declare.draft_write import write
    from audit.jobs.draft import draft_dump
    from audit.pixels.cache import default_cache

    cache = None if no_cache else default_cache()
    kit = kit or find_kit(dump)
    refuse_entangled(dump, kit=kit, declarations=declarations, cache=cache, pixels=pixels)
    with progress("reading", "looking", quiet=quiet) as ticks:
        drafted = draft_dump(
            dump,
            kit_path=kit,
            declarations=declarations,
            place=place,
            pixels=pixels,
            cache=cache,
            progress=ticks[0],
            looking=ticks[1],
        )
    backups = [write(change) for change in drafted.changes] if to_write else []
    if as_json:
        speak.as_json(_record(drafted))
    elif not quiet:
        _tell(drafted, to_write)
        for backup in (b for b in backups if b is not None):
            speak.out(f"the file as it was: {shown_name(str(backup))}")
    return int(any(span.sure == "unsure" for one in drafted.drafts for span in one.spans))


def _tell(drafted: Drafted, written: bool) -> None:
    for mistake in drafted.mistakes:
        speak.err(str(mistake))
    if not drafted.drafts:
        if drafted.silent:
            raise AuditError(
                "no filter in the kit, so nothing can be estimated: write a kit.toml, or name one with --kit"
            )
        speak.out("every frame is covered by a declaration; nothing to draft")
        return
    for change in drafted.changes:
        whole = f"# {shown_line(change.shown)}\n{change.after}"
        speak.out(change.diff if change.before is not None else whole)
    if drafted.questions:
        speak.out("What you could settle, most frames first:")
        for number, question in enumerate(drafted.questions, start=1):
            speak.out(f"  {number}. {shown_line(question)}")
    speak.out(_summary(drafted, written))


def _summary(drafted: Drafted, written: bool) -> str:
    levels = [(span.sure, len(span.frames)) for one in drafted.drafts for span in one.spans]
    counts = {level: sum(n for sure, n in levels if sure == level) for level in ("sure", "likely", "unsure")}
    told = ", ".join(f"{count} {level}" for level, count in counts.items())
    files = len(drafted.changes)
    did = f"{files} file{'' if files == 1 else 's'} written" if written else "nothing written (--write does)"
    return f"{drafted.silent} of {drafted.frames} frames undeclared: {told}; {did}"


def _record(drafted: Drafted) -> dict[str, Any]:
    return {
        "frames": drafted.frames,
        "undeclared": drafted.silent,
        "questions": list(drafted.questions),
        "files": [
            {
                "path": change.shown,
                "existing": change.before is not None,
                "spans": [
                    {"frames": list(span.frames), "sure": span.sure, "text": span.text} for span in one.spans
                ],
            }
            for change, one in zip(drafted.changes, drafted.drafts, strict=True)
        ],
    }
