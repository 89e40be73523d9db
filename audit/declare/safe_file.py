"""Text files of the photographer's: read as they are, changed with line ends kept and a backup beside."""

from __future__ import annotations

import difflib
import os
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

from audit.errors import AuditError

NEW_FILE_MODE = 0o644


def read_text(path: Path) -> str:
    """The text with its line ends and its byte order mark, if any. Raises AuditError."""
    try:
        return path.read_bytes().decode("utf-8")
    except OSError as error:
        raise AuditError(
            f"{path}: cannot be read ({error.strerror}); check the name and the rights"
        ) from None
    except UnicodeDecodeError:
        raise AuditError(f"{path}: is not UTF-8 text; save the file as UTF-8") from None


def line_ends(text: str, like: str) -> str:
    """The text with the line ends that most lines of the old one have."""
    plain = text.replace("\r\n", "\n")
    return plain.replace("\n", "\r\n") if like.count("\r\n") * 2 > like.count("\n") else plain


def diff(before: str, after: str, shown: str) -> str:
    """Unified diff of two texts, line ends apart; empty where nothing changes."""
    old, new = (text.replace("\r\n", "\n").splitlines(keepends=True) for text in (before, after))
    return "".join(difflib.unified_diff(old, new, shown, f"{shown} (new)"))


def put(path: Path, before: str | None, after: str, check: Callable[[Path], None]) -> Path | None:
    """Puts a text in place of `before` (None: no file) in one step; gives the path of the backup, if any.

    `check` gets the new file before it takes its place and may raise. Raises AuditError, with everything as
    it was, where the file was changed meanwhile or cannot be written.
    """
    target = path.resolve()  # a link stays a link
    existed = target.exists()
    if (read_text(target) if existed else None) != before:
        raise AuditError(f"{path}: was changed meanwhile; run the command again")
    name = ""
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".toml", dir=target.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(after.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        check(Path(name))
        if existed:
            shutil.copymode(target, name)
        else:
            Path(name).chmod(NEW_FILE_MODE)
        backup = _backup(target) if existed else None
        Path(name).replace(target)
    except OSError as error:
        raise AuditError(f"{path}: cannot be written ({error.strerror}); nothing was changed") from None
    finally:
        if name:
            Path(name).unlink(missing_ok=True)
    return backup


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
