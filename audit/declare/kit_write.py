"""Writes measured values of lenses and filters into kit.toml: comments and order stay, a backup is kept.

Nothing is written before the new text has been read back as a kit without mistakes.
"""

from __future__ import annotations

import difflib
import os
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from audit.declare.read_kit import read_kit
from audit.errors import AuditError
from audit.model.calibration import KitValue


@dataclass(frozen=True)
class KitChange:
    """A kit file as it is and as it would be, both as text with the file's own line ends."""

    path: Path
    before: str
    after: str

    @property
    def diff(self) -> str:
        """Unified diff; empty where nothing changes."""
        old, new = (t.replace("\r\n", "\n").splitlines(keepends=True) for t in (self.before, self.after))
        return "".join(difflib.unified_diff(old, new, self.path.name, f"{self.path.name} (new)"))


def plan(path: Path, id: str, values: Mapping[str, KitValue], table: str = "lens") -> KitChange:
    """What the kit file would be with the values of one lens or filter; None takes a key out.

    Raises AuditError where the file cannot be read, holds no such table, or is no TOML.
    """
    return plan_all(path, {(table, id): values})


def plan_all(path: Path, changes: Mapping[tuple[str, str], Mapping[str, KitValue]]) -> KitChange:
    """The same for several tables at once, by (table, id)."""
    before = _read(path)
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
    return KitChange(path, before, _line_ends(tomlkit.dumps(document), before))


def write(change: KitChange) -> Path:
    """Puts the new text in place of the old in one step; gives the path of the backup.

    Raises AuditError, with the file as it was, where it was changed meanwhile or cannot be written.
    """
    target = change.path.resolve()  # a link stays a link
    if _read(target) != change.before:
        raise AuditError(f"{change.path}: was changed meanwhile; run the command again")
    handle, name = -1, ""
    try:
        handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".toml", dir=target.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(change.after.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        _check(Path(name), change.path)
        shutil.copymode(target, name)
        backup = _backup(target)
        Path(name).replace(target)
    except OSError as error:
        raise AuditError(
            f"{change.path}: cannot be written ({error.strerror}); nothing was changed"
        ) from None
    finally:
        if name:
            Path(name).unlink(missing_ok=True)
    return backup


def _read(path: Path) -> str:
    """The text with its line ends and its byte order mark, if any."""
    try:
        return path.read_bytes().decode("utf-8")
    except OSError as error:
        raise AuditError(
            f"{path}: cannot be read ({error.strerror}); check the name and the rights"
        ) from None
    except UnicodeDecodeError:
        raise AuditError(f"{path}: is not UTF-8 text; save the file as UTF-8") from None


def _set(table: Any, key: str, value: KitValue) -> None:
    """Changes, adds behind the last key, or takes out one key."""
    if value is None:
        table.pop(key, None)
        return
    item = tomlkit.item(value)
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


def _line_ends(text: str, like: str) -> str:
    """The text with the line ends that most lines of the old one have."""
    plain = text.replace("\r\n", "\n")
    return plain.replace("\n", "\r\n") if like.count("\r\n") * 2 > like.count("\n") else plain


def _check(path: Path, shown: Path) -> None:
    """Refuses a text that would be no sound kit."""
    wrong = [m for m in read_kit(path, str(shown)).mistakes if m.level == "error"]
    if wrong:
        raise AuditError(f"{wrong[0]} (with the new values; nothing was changed)")


def _backup(path: Path) -> Path:
    """A copy beside the file under a name that is free: kit.toml.bak, kit.toml.bak1 and so on."""
    number = 0
    while True:
        backup = path.with_name(f"{path.name}.bak{number or ''}")
        try:
            with backup.open("xb") as file:
                file.write(path.read_bytes())
        except FileExistsError:
            number += 1
            continue
        shutil.copymode(path, backup)
        return backup
