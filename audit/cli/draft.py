"""`cornerstop draft`: a card without notes in, a declaration to correct out."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from audit.cli import speak
from audit.cli.accept import AcceptOptions, accept_command, tell_backups, tell_changes, what_was_done
from audit.cli.options import (
    DUMPS,
    FILE,
    NO_CACHE,
    PIXELS,
    PLACE,
    progress,
    reading,
    refuse_entangled,
    speaking,
)
from audit.cli.pasted import AsTyped, begin_kit
from audit.cli.spoken import Command
from audit.errors import AuditError, grouped
from audit.message.shown import shown_line, shown_name

if TYPE_CHECKING:
    from audit.cli.bag import Asked
    from audit.jobs.draft import Drafted
    from audit.pixels.sources import Mode

MOST_PLACES = 5


@click.command(
    "draft",
    cls=Command,
    epilog="\b\nExample:\n  cornerstop draft ~/trips/skarven --declarations ~/notes/skarven --write"
    "\n  cornerstop draft ~/trips/skarven --say TARN0101..TARN0140 n10 --say TARN0141 none --write"
    "\n  cornerstop draft ~/trips/skarven --accept likely --files TARN0101 TARN0140",
)
@DUMPS
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
    "--say",
    nargs=2,
    multiple=True,
    metavar="FRAMES WHAT",
    help="What was on: FRAMES is a frame or FIRST..LAST, WHAT filters joined by +, none (no neutral), bare "
    "(nothing at all) or unknown. The rest is drafted with it. May be repeated.",
)
@click.option(
    "--accept",
    type=click.Choice(["sure", "likely"]),
    help="Draft nothing: take the marks off drafted spans that are so sure or surer.",
)
@click.option("--files", nargs=2, metavar="FIRST LAST", help="With --accept: only spans of these frames.")
@click.option("--times", nargs=2, metavar="FROM TO", help="With --accept: only spans between these times.")
@click.option(
    "--bare",
    is_flag=True,
    help="With --accept: where no neutral was on, nothing else was either, so write bare = true.",
)
@click.option(
    "--write", "to_write", is_flag=True, help="Write what is shown; a file that exists keeps a backup."
)
@reading
@speaking
def draft_command(
    dumps: tuple[Path, ...],
    kit: Path | None,
    declarations: Path | None,
    place: tuple[float, float] | None,
    pixels: Mode,
    no_cache: bool,
    say: tuple[tuple[str, str], ...],
    accept: str | None,
    files: tuple[str, str] | None,
    times: tuple[str, str] | None,
    bare: bool,
    to_write: bool,
    as_json: bool,
    quiet: bool,
) -> int:
    """Draft filters.toml for the frames of DUMP that no declaration covers, from their exposures.

    Shows what would be written, and the questions that would settle most. What was drafted before and left as
    it was is drafted again, with all that you have said since; what you changed, accepted or added stays to
    the byte. Several dumps are drafted as one trip, each span into the dump of its frames; a bag of
    `cornerstop archive` is a dump too, with --declarations to write into. Drafted spans say
    source = "estimated" until you take that line out, or accept them with --accept. Exit code 1 when frames
    are left that the exposures cannot tell, or nothing was accepted.
    """
    from audit.cli.bag import asked
    from audit.declare.draft_write import write
    from audit.disk.dumps import one_trip

    if say and (accept is not None or files or times or bare):
        raise AuditError(
            "--say answers while drafting, --accept drafts nothing; run them one after the other"
        )
    typed = AsTyped(one_trip(dumps), kit, declarations, place, pixels, no_cache)
    with asked(dumps, kit, declarations, write=to_write) as work:
        if accept is not None or files or times or bare:
            said = AcceptOptions(accept or "", files or None, times or None, bare)
            return accept_command(work.dump, work.kit, work.declarations, said, to_write, as_json, quiet)
        drafted = _drafted(typed, work, say, quiet)
        backups = [write(change) for change in drafted.changes] if to_write else []
    if as_json:
        speak.as_json(_record(drafted, typed))
    elif not quiet:
        _tell(drafted, typed, work.kit, to_write)
        tell_backups(backups)
    return int(any(span.sure == "unsure" for one in drafted.drafts for span in one.spans))


def _drafted(typed: AsTyped, work: Asked, say: Sequence[tuple[str, str]], quiet: bool) -> Drafted:
    from audit.declare.answer import Said
    from audit.jobs.draft import draft_dump
    from audit.pixels.cache import default_cache

    cache = None if typed.no_cache else default_cache()
    if work.bag is not None and work.kit is None:
        raise AuditError(f"{shown_name(str(work.bag.bag))}: holds no kit; name one with --kit")
    refuse_entangled(
        work.dump, kit=work.kit, declarations=typed.declarations, cache=cache, pixels=typed.pixels
    )
    with progress("reading", "looking", quiet=quiet) as ticks:
        return draft_dump(
            work.dump,
            kit_path=work.kit,
            declarations=work.declarations,
            place=typed.place,
            pixels=typed.pixels,
            cache=cache,
            said=[Said(*one) for one in say],
            progress=ticks[0],
            looking=ticks[1],
        )


def _tell(drafted: Drafted, typed: AsTyped, kit: Path | None, written: bool) -> None:
    from audit.report.untold import change_words

    for line in grouped(drafted.mistakes):
        speak.err(line)
    if not drafted.able:
        if drafted.silent:
            for line in change_words(drafted.changed, drafted.more):
                speak.out(shown_line(line))
            raise AuditError(_no_filters(typed, kit))
        speak.out("every frame is covered by a declaration; nothing to draft")
        return
    tell_changes(drafted.changes)
    if drafted.questions:
        speak.out(
            "What you could settle, most frames first. Each command answers with what is likeliest: write in"
        )
        speak.out(
            "its place what was on (filters joined by +, none: no neutral, bare: nothing at all, unknown)."
        )
        for number, (question, frames) in enumerate(
            zip(drafted.questions, drafted.words, strict=True), start=1
        ):
            speak.out(f"  {number}. {shown_line(question.text)}")
            speak.out(
                f"     {typed.answer(frames, question.guess)}" if frames else "     Answer it in the file."
            )
    if drafted.left:
        speak.out(f"comments that you changed stay, and still declare nothing: {_few(drafted.left)}")
    if drafted.estimated:
        places = _few(drafted.estimated)
        speak.out(f'spans that you changed; take source = "estimated" out to make them your word: {places}')
    speak.out(_summary(drafted, written))


def _no_filters(typed: AsTyped, kit: Path | None) -> str:
    """What a draft needs, and how to come by it."""
    from audit.disk.dumps import tops

    if kit is None:
        begin = begin_kit(tops(typed.dump))
        return f"no kit was found, and a draft needs its filters; begin one with: {begin}"
    wanted = '[[filter]] with id = "n6", kind = "neutral", stops = 6'
    return (
        f"no filter in the kit, so nothing can be estimated; add each to {shown_name(str(kit))} like {wanted}"
    )


def _few(places: Sequence[str]) -> str:
    more = f" and {len(places) - MOST_PLACES} more" if len(places) > MOST_PLACES else ""
    return ", ".join(shown_name(place) for place in places[:MOST_PLACES]) + more


def _summary(drafted: Drafted, written: bool) -> str:
    if not drafted.silent and not drafted.changes:
        return "every frame is covered by a declaration; nothing to draft"
    levels = [(span.sure, len(span.frames)) for one in drafted.drafts for span in one.spans]
    counts = {level: sum(n for sure, n in levels if sure == level) for level in ("sure", "likely", "unsure")}
    told = ", ".join(f"{count} {level}" for level, count in counts.items())
    said = f"{drafted.answered} frame{'' if drafted.answered == 1 else 's'} answered; " * bool(
        drafted.answered
    )
    head = f"{said}{drafted.silent} of {drafted.frames} frames undeclared: {told}"
    return f"{head}; {what_was_done(drafted.changes, written)}"


def _record(drafted: Drafted, typed: AsTyped) -> dict[str, Any]:
    from audit.declare.draft_write import shown_path

    return {
        "frames": drafted.frames,
        "undeclared": drafted.silent,
        "questions": [question.text for question in drafted.questions],
        "asked": [
            {
                "frames": frames,
                "guess": one.guess,
                "settles": one.settles,
                "answer": typed.answer(frames, one.guess),
            }
            for one, frames in zip(drafted.questions, drafted.words, strict=True)
            if frames
        ],
        "answered": drafted.answered,
        "files": [
            {
                "path": shown_path(one.folder),
                "existing": one.folder in drafted.declared,
                "spans": [
                    {"frames": list(span.frames), "sure": span.sure, "text": span.text} for span in one.spans
                ],
            }
            for one in drafted.drafts
        ],
    }
