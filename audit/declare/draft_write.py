"""Drafts into `filters.toml` files: what was drafted before and left as it was is replaced, a backup kept.

Nothing is written before the new text has been read, and holds all that is the photographer's as it was.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from audit.declare.answer import Answer
from audit.declare.draft import HEAD, FolderDraft, Span
from audit.declare.marks import BOM, Block, blanked, data_of, own_blocks, plain_lines, theirs
from audit.declare.read import FILE_NAME
from audit.disk.dumps import Dump
from audit.errors import AuditError
from audit.toml.file import parse_toml
from audit.toml.text_file import diff, has_crlf, line_ends, put, read_text


@dataclass(frozen=True)
class DraftChange:
    """A declaration as it is (None: there is none) and as it would be; `shown` is its name in messages.

    `on_disk` is what stands at `path`: None too where a mirror tree gets a copy of the dump's own.
    """

    path: Path
    shown: str
    before: str | None
    on_disk: str | None
    after: str

    @property
    def diff(self) -> str:
        """Unified diff against the file as it is; empty where nothing changes."""
        return diff(self.before or "", self.after, self.shown)


def shown_path(folder: str) -> str:
    """The declaration of a folder, in messages."""
    return FILE_NAME if folder == "." else f"{folder}/{FILE_NAME}"


def target_and_source(folder: str, dump: Dump, mirror: Path | None) -> tuple[Path, Path]:
    """Where the declaration of a folder is written, and where it is read: the mirror tree comes first."""
    # of several dumps the mirror tree holds a folder each, by the name that paths in the table begin with
    target = (mirror or dump) / shown_path(folder)
    return target, target if target.exists() or mirror is None else dump / shown_path(folder)


def plan(draft: FolderDraft, dump: Dump, mirror: Path | None) -> DraftChange:
    """What the declaration of one folder would become; in the mirror tree where there is one.

    Raises AuditError where an existing file cannot be read. A declaration in the dump that the mirror lacks
    is copied there with the draft: the dump's own stays as it is.
    """
    shown = shown_path(draft.folder)
    target, source = target_and_source(draft.folder, dump, mirror)
    before = read_text(source) if source.exists() else None
    if before is None:
        head = HEAD + "\n" if draft.spans else ""
        return DraftChange(target, shown, None, None, head + _joined(draft.pieces) + "\n")
    after = _with(before, draft, shown)
    return DraftChange(target, shown, before, before if source == target else None, after)


def write(change: DraftChange) -> Path | None:
    """Puts the new text in place in one step; gives the path of the backup, None for a new file.

    Raises AuditError, with everything as it was, where the file was changed meanwhile, cannot be written, or
    would be no declaration.
    """
    _, mistakes = parse_toml(change.after, change.shown)
    wrong = [m for m in mistakes if m.level == "error"]
    if wrong:
        raise AuditError(
            f"{wrong[0]} (with the draft; nothing was changed); mend that line and run the command again"
        )
    return put(change.path, change.on_disk, change.after)


def _with(before: str, draft: FolderDraft, shown: str) -> str:
    """The text with these spans and no others as they were drafted, and the answers.

    In the places of the old ones where that leaves the photographer's keys in their tables, else at the end.
    """
    start = BOM * before.startswith(BOM)
    for made in (_in_place, _at_end):
        after = start + made(before.removeprefix(BOM), own_blocks(before), draft.pieces)
        if _sound(before, after, draft):
            return after
    raise AuditError(
        f"{shown}: a draft would take over keys of yours that stand below it, so nothing was changed; "
        "move them above the first [[worn]] or into the span they belong to, and run the command again"
    )


def _sound(before: str, after: str, draft: FolderDraft) -> bool:
    """Whether all that is the photographer's is as it was, and the rest is these spans and answers."""
    rest = _without(after, draft.answers)
    try:
        kept = theirs(rest) == theirs(before)
        keys, worn = data_of(blanked(before))
        worn += Counter(one for answer in draft.answers for one in data_of(answer.text)[1].elements())
        told = data_of(blanked(after)) == (keys, worn)
    except tomllib.TOMLDecodeError:
        return False
    drafts = [list(block.lines) for block in own_blocks(after)]
    return kept and told and drafts == [span.text.split("\n") for span in draft.spans]


def _without(text: str, answers: Sequence[Answer]) -> str:
    """The text with empty lines where each of these answers stands for the first time."""
    start = BOM * text.startswith(BOM)
    lines = plain_lines(text)
    for answer in answers:
        mine = answer.text.split("\n")
        ats = range(len(lines) - len(mine) + 1)
        at = next((at for at in ats if lines[at : at + len(mine)] == mine), None)
        if at is not None:
            lines[at : at + len(mine)] = [""] * len(mine)
    return start + "\n".join(lines)


def _in_place(before: str, old: Sequence[Block], spans: Sequence[Span | Answer]) -> str:
    """New spans where the old ones of the same frames stood; what is left, behind the last one."""
    if not old:
        return _at_end(before, old, spans)
    number = {name: at for at, span in enumerate(spans) for name in span.names}
    lines, out, given, at = before.split("\n"), list[str](), 0, 0
    for block in old:
        out += lines[at : block.first]
        at = block.last + 1
        files = block.span.get("files") or [""]
        upto = len(spans) if block is old[-1] else number.get(str(files[0]), -1) + 1
        fresh = spans[given:upto]
        given += len(fresh)
        if fresh:
            out += line_ends(_joined(fresh), before).split("\n")
            out[-1] += "\r" * (has_crlf(before) and at < len(lines))
        elif at < len(lines) - 1 and not lines[at].strip():
            at += 1  # the blank line that stood behind it
    return "\n".join([*out, *lines[at:]])


def _at_end(before: str, old: Sequence[Block], spans: Sequence[Span | Answer]) -> str:
    """The old ones taken out, the new ones behind all else."""
    rest = _in_place(before, old, ()) if old else before
    if not spans:
        return rest
    joint = "" if not rest or rest.endswith("\n") else "\n"
    gap = "" if not rest or rest.replace("\r", "").endswith("\n\n") else "\n"
    return rest + line_ends(f"{joint}{gap}{_joined(spans)}\n", before)


def _joined(spans: Sequence[Span | Answer]) -> str:
    return "\n\n".join(span.text for span in spans)
