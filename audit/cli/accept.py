"""`cornerstop draft --accept`: drafted spans become the photographer's word without an editor."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from audit.cli import speak
from audit.cli.options import progress, refuse_entangled
from audit.errors import AuditError
from audit.message.shown import shown_line, shown_name

if TYPE_CHECKING:
    from audit.declare.draft_write import DraftChange
    from audit.declare.worn import Worn
    from audit.disk.dumps import Dump
    from audit.jobs.accept import Accepted


@dataclass(frozen=True)
class AcceptOptions:
    """What stood behind the options: least sureness, frames from where to where, whether as bare."""

    level: str
    files: tuple[str, str] | None
    times: tuple[str, str] | None
    bare: bool


def accept_command(
    dump: Dump,
    kit: Path | None,
    declarations: Path | None,
    said: AcceptOptions,
    to_write: bool,
    as_json: bool,
    quiet: bool,
) -> int:
    """Shows or writes the accepted spans; 1 where none was."""
    from audit.declare import find_kit
    from audit.declare.draft_write import write
    from audit.jobs.accept import accept_dump

    within = _within(said)
    kit = kit or find_kit(dump)
    refuse_entangled(dump, kit=kit, declarations=declarations)
    with progress("reading", quiet=quiet) as ticks:
        accepted = accept_dump(
            dump,
            said.level,
            kit_path=kit,
            declarations=declarations,
            within=within,
            bare=said.bare,
            progress=ticks[0],
        )
    backups = [write(change) for change in accepted.changes] if to_write else []
    if as_json:
        speak.as_json(_record(accepted))
    elif not quiet:
        tell_changes(accepted.changes)
        _tell(accepted, to_write)
        tell_backups(backups)
    return int(not accepted.spans)


def tell_changes(changes: Iterable[DraftChange]) -> None:
    """The changes as diffs, new files whole."""
    for change in changes:
        whole = f"# {shown_line(change.shown)}\n{change.after}"
        speak.out(change.diff if change.before is not None else whole)


def tell_backups(backups: Iterable[Path | None]) -> None:
    """Where the files lie as they were."""
    for backup in (b for b in backups if b is not None):
        speak.out(f"the file as it was: {shown_name(str(backup))}")


def what_was_done(changes: Sequence[DraftChange], written: bool) -> str:
    """How many files were written."""
    files = len(changes)
    if not files:
        return "nothing to change"
    return f"{files} file{'' if files == 1 else 's'} written" if written else "nothing written (--write does)"


def _within(said: AcceptOptions) -> Worn | None:
    """The frames asked for, as a span. Raises AuditError."""
    from audit.declare.worn import Worn

    if not said.level:
        raise AuditError(
            "--files, --times and --bare go with --accept; add --accept likely, or --accept sure"
        )
    if said.files and said.times:
        raise AuditError("--files and --times are both given; keep one of them")
    if said.files:
        return Worn(files=said.files, unknown=True)
    return Worn(times=(_time(said.times[0]), _time(said.times[1])), unknown=True) if said.times else None


def _time(written: str) -> datetime:
    try:
        if "T" in written.upper():
            return datetime.fromisoformat(written.upper())
    except ValueError:
        pass
    raise AuditError(
        f"--times: {shown_line(written)} is no date with a time; write it as 2026-05-02T05:10:00"
    )


def _tell(accepted: Accepted, written: bool) -> None:
    """What was left out and how to have it too, then what was done."""
    if accepted.no_neutral:
        words = "accepted as without a neutral: a grad or polariser may have been on; --bare says none was"
        speak.out(f"{_frames(accepted.no_neutral)} {words}")
    for frames, words in (
        (
            accepted.beyond,
            "lie in spans that go on beyond what was asked for; name their first and last frame",
        ),
        (accepted.covered, "are covered by a span of yours by now; `cornerstop draft --write` drafts again"),
    ):
        if frames:
            speak.out(f"{_frames(frames)} left out: they {words}")
    head = f"{accepted.spans} span{'' if accepted.spans == 1 else 's'} of {_frames(accepted.frames)} accepted"
    speak.out(f"{head}; {what_was_done(accepted.changes, written)}")
    if written and accepted.spans and accepted.left:
        speak.out("`cornerstop draft --write` drafts the rest again, with what you have accepted")


def _frames(count: int) -> str:
    return f"{count} frame{'' if count == 1 else 's'}"


def _record(accepted: Accepted) -> dict[str, object]:
    return {
        "spans": accepted.spans,
        "frames": accepted.frames,
        "no_neutral": accepted.no_neutral,
        "left_out": {"beyond": accepted.beyond, "covered": accepted.covered},
        "left": accepted.left,
        "files": [{"path": change.shown, "diff": change.diff} for change in accepted.changes],
    }
