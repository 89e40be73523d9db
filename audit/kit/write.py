"""Writes measured values of lenses and filters into kit.toml: comments and order stay, a backup is kept.

Nothing is written before the new text has been read as a kit without mistakes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from audit.errors import AuditError
from audit.kit.part import KitRow, KitValue
from audit.kit.read import kit_from
from audit.toml.file import parse_toml
from audit.toml.text_file import diff, line_ends, put, read_text


@dataclass(frozen=True)
class KitChange:
    """A kit file as it is and as it would be, both as text with the file's own line ends."""

    path: Path
    before: str
    after: str

    @property
    def diff(self) -> str:
        """Unified diff; empty where nothing changes."""
        return diff(self.before, self.after, self.path.name)


def plan(path: Path, id: str, values: Mapping[str, KitValue], table: str = "lens") -> KitChange:
    """What the kit file would be with the values of one lens or filter; None takes a key out.

    Raises AuditError where the file cannot be read, holds no such table, or is no TOML.
    """
    return plan_all(path, {(table, id): values})


def plan_all(path: Path, changes: Mapping[tuple[str, str], Mapping[str, KitValue]]) -> KitChange:
    """The same for several tables at once, by (table, id)."""
    before = read_text(path)
    try:
        document = tomlkit.parse(before)
    except TOMLKitError as error:
        raise AuditError(f"{path}: is not valid TOML: {error}; run `cornerstop kit check`") from None
    for (table, id), values in changes.items():
        found = next((x for x in document.get(table, []) if x.get("id") == id), None)
        if found is None:
            raise AuditError(f'{path}: has no [[{table}]] with id = "{id}"; add it')
        for key, value in values.items():
            _set(found, key, value)
    return KitChange(path, before, line_ends(tomlkit.dumps(document), before))


def write(change: KitChange) -> Path:
    """Puts the new text in place of the old in one step; gives the path of the backup.

    Raises AuditError, with the file as it was, where it was changed meanwhile or cannot be written.
    """
    _check(change)
    backup = put(change.path, change.before, change.after)
    assert backup is not None  # a kit that was read exists
    return backup


def _set(table: Any, key: str, value: KitValue) -> None:
    """Changes, adds behind the last key, or takes out one key."""
    if value is None:
        table.pop(key, None)
        return
    item = _item(value)
    if key in table:
        table[key] = item
        return
    body = getattr(getattr(table, "value", None), "body", None)
    last = next((name for name, _ in reversed(body or []) if name is not None), None)
    if last is None or not hasattr(table, "value") or isinstance(table, tomlkit.items.InlineTable):
        table[key] = item
        return
    # Appending would put the key behind the blank lines and comments that lead over to the next table.
    table.value._insert_after(last, tomlkit.key(key), item)


def _item(value: float | list[list[float]] | list[KitRow]) -> Any:
    """As TOML; small tables each on a line of its own."""
    rows = [row for row in value if isinstance(row, dict)] if isinstance(value, list) else []
    if not rows:
        return tomlkit.item(value)
    lines = tomlkit.array().multiline(True)
    for row in rows:
        inline = tomlkit.inline_table()
        inline.update(row)
        lines.append(inline)
    return lines


def _check(change: KitChange) -> None:
    """Refuses a text that would be no sound kit."""
    read = kit_from(*parse_toml(change.after, str(change.path)))
    wrong = [m for m in read.mistakes if m.level == "error"]
    if wrong:
        raise AuditError(
            f"{wrong[0]} (with the new values; nothing was changed); mend that line and run the command again"
        )
