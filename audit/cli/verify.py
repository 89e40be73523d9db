"""`cornerstop verify`: is every bit of a bag as it was, and may the card be formatted?"""

from __future__ import annotations

from pathlib import Path

import click

from audit.cli import speak
from audit.cli.options import FOLDER, progress
from audit.cli.spoken import Command
from audit.errors import AuditError
from audit.message.shown import shown_name


@click.command(
    "verify",
    cls=Command,
    epilog="\b\nExample:\n  cornerstop verify /media/archive/skarven --card /media/card",
)
@click.argument("bags", metavar="BAG...", nargs=-1, required=True, type=FOLDER)
@click.option(
    "--quick", is_flag=True, help="Read the tag files only; judge the rest by size and time of change."
)
@click.option("--card", type=FOLDER, help="Say whether every file of this card is in the bags, by content.")
@click.option("--quiet", "-q", is_flag=True, help="No progress, and nothing of bags that are whole.")
def verify_command(bags: tuple[Path, ...], quick: bool, card: Path | None, quiet: bool) -> int:
    """Read every BAG again and name each file that is changed, missing or added.

    A bag of cornerstop must be in its own strict form, and NAME.sha512 must lie beside it; any other is
    judged by RFC 8493 alone. Adds a line to NAME.log beside the bag. Exit code 1 when something is wrong, or
    when the card may not be formatted.
    """
    from audit.jobs.verify import ask_card, refuse_on_card, verify

    if card is not None:
        if quick:
            raise AuditError("--card needs every byte read; leave out --quick")
        refuse_on_card(bags, card)
    with progress("verifying", "card", quiet=quiet) as (verifying, reading):
        seen = [verify(bag, quick=quick, progress=verifying) for bag in bags]
        answer = ask_card(card, seen, reading) if card is not None else None
    for one in seen:
        name = shown_name(str(one.bag))
        for problem in one.found.problems:
            more = f" ({problem.more})" if problem.more else ""
            speak.out(f"{name}: {problem.kind}: {shown_name(problem.path)}{more}")
        if not one.found.problems and not quiet:
            how = "sizes and times" if quick else "every byte"
            speak.out(f"{name}: whole: {one.found.files} files, {one.found.bytes} bytes, by {how}")
        if one.updating:
            speak.err(
                f"{name}: an update was stopped before its end; the same command again ends it, "
                f"cornerstop archive --update {name} ends it or takes it back"
            )
        if not one.logged:
            speak.err(f"{name}.log: cannot be written, or is not ours; no line was added")
    if answer is not None:
        _answer(answer)
    wrong = any(one.found.problems for one in seen) or (answer is not None and not answer.may_format)
    return int(wrong)


def _answer(answer: object) -> None:
    from audit.disk.read_back import CAN_DROP
    from audit.jobs.verify import CardAnswer

    assert isinstance(answer, CardAnswer)
    for name, problem in answer.left:
        speak.out(f"card: {name}: {problem}")
    if not answer.may_format:
        why = f"{len(answer.left)} of {answer.files} files are not safe" if answer.left else "no bag is whole"
        why = why if answer.files else "there is no file on it"
        speak.out(f"May I format the card? NO: {why}")
        return
    copies = f"{answer.copies} verified {'copy' if answer.copies == 1 else 'copies'} of each"
    speak.out(f"May I format the card? YES: {answer.files} files, {copies}")
    if not CAN_DROP:
        speak.out("note: this system drops no cached pages, so the check may have read memory")
    if answer.beside:
        speak.out(
            "note: a bag lies on the same file system as this folder; formatting that would take the bag too"
        )
