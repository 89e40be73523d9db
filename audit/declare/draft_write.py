"""Drafts into `filters.toml` files: new ones whole, existing ones only added to, a backup kept.

Nothing is written before the new text has been read as a declaration without mistakes.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from audit.declare.draft import FolderDraft
from audit.declare.read import FILE_NAME
from audit.errors import AuditError
from audit.toml.file import parse_toml
from audit.toml.text_file import diff, line_ends, put, read_text


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
        """Unified diff against the file as it is."""
        return diff(self.before or "", self.after, self.shown)


def plan(draft: FolderDraft, dump: Path, mirror: Path | None) -> DraftChange:
    """What the declaration of one folder would become; in the mirror tree where there is one.

    Raises AuditError where an existing file cannot be read. A declaration in the dump that the mirror lacks
    is copied there with the addition: the dump's own stays as it is.
    """
    shown = FILE_NAME if draft.folder == "." else f"{draft.folder}/{FILE_NAME}"
    target = (mirror or dump) / shown
    source = target if target.exists() or mirror is None else dump / shown
    before = read_text(source) if source.exists() else None
    if before is None:
        return DraftChange(target, shown, None, None, draft.text)
    joint = "" if not before or before.endswith("\n") else "\n"
    after = before + line_ends(f"{joint}\n{draft.text}", before)
    return DraftChange(target, shown, before, before if source == target else None, after)


def write(change: DraftChange) -> Path | None:
    """Puts the new text in place in one step; gives the path of the backup, None for a new file.

    Raises AuditError, with everything as it was, where the file was changed meanwhile, cannot be written, or
    would be no declaration.
    """
    _, mistakes = parse_toml(change.after, change.shown)
    wrong = [m for m in mistakes if m.level == "error"]
    if wrong:
        raise AuditError(f"{wrong[0]} (with the draft; nothing was changed)")
    return put(change.path, change.on_disk, change.after)
