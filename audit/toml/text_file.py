"""Text files of the photographer's: read as they are, changed with line ends kept and a backup beside."""

from __future__ import annotations

import difflib
import errno
import os
from pathlib import Path

from audit.disk.regular import open_regular
from audit.disk.whole_file import put_whole
from audit.errors import AuditError

LARGEST_BYTES = 5_000_000
"""A kit or declaration is written by hand; anything larger is some other file."""


def read_text(path: Path) -> str:
    """The text with its line ends and its byte order mark, if any. Raises AuditError."""
    try:
        with open_regular(path) as file:
            data = file.read(LARGEST_BYTES + 1)
        if len(data) > LARGEST_BYTES:
            raise AuditError(f"{path}: is larger than 5 MB; is it the right file?")
        return data.decode("utf-8")
    except OSError as error:
        raise AuditError(
            f"{path}: cannot be read ({error.strerror}); check the name and the rights"
        ) from None
    except UnicodeDecodeError:
        raise AuditError(f"{path}: is not UTF-8 text; save the file as UTF-8") from None


def line_ends(text: str, like: str) -> str:
    """The text with the line ends that most lines of the old one have."""
    plain = text.replace("\r\n", "\n")
    return plain.replace("\n", "\r\n") if has_crlf(like) else plain


def has_crlf(text: str) -> bool:
    """Whether most lines end with CR and LF."""
    return text.count("\r\n") * 2 > text.count("\n")


def diff(before: str, after: str, shown: str) -> str:
    """Unified diff of two texts, line ends apart; empty where nothing changes."""
    old, new = (text.replace("\r\n", "\n").splitlines(keepends=True) for text in (before, after))
    return "".join(difflib.unified_diff(old, new, shown, f"{shown} (new)"))


def put(path: Path, before: str | None, after: str) -> Path | None:
    """Puts a text in place of `before` (None: no file) in one step; gives the path of the backup, if any.

    Raises AuditError, with everything as it was, where the file was changed meanwhile or cannot be written.
    """
    target = path.resolve()  # a link stays a link
    data = after.encode("utf-8")
    try:
        if before is None:
            _make_folder(target.parent)
            put_whole(target, data, replacing=False)
            return None
        if read_text(target) != before:
            raise AuditError(f"{path}: was changed meanwhile; run the command again")
        backup = keep_backup(target)
        put_whole(target, data, replacing=True, like=target.stat())
        return backup
    except FileExistsError:
        raise AuditError(f"{path}: was changed meanwhile; run the command again") from None
    except OSError as error:
        raise AuditError(
            f"{path}: cannot be written ({error.strerror}), so nothing was changed; look at the rights of "
            "its folder and the room on the disk"
        ) from None


def _make_folder(folder: Path) -> None:
    """Makes a folder; a file that stands in its place is no change meanwhile."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except FileExistsError as error:
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR)) from error


def keep_backup(path: Path, *, one_of_many: bool = False) -> Path:
    """A copy beside the file under a free name: kit.toml.bak, kit.toml.bak1 ...; the last one, if it is one.

    A command that was stopped after its backup and before its change has left such a last one. `one_of_many`
    as for `put_whole`.
    """
    data, status = path.read_bytes(), path.stat()
    number = 0
    last: Path | None = None
    while True:
        backup = path.with_name(f"{path.name}.bak{number or ''}")
        if not os.path.lexists(backup):
            break
        last, number = backup, number + 1
    if last is not None and _is_copy(last, data):
        return last
    put_whole(backup, data, replacing=False, like=status, time_ns=status.st_mtime_ns, one_of_many=one_of_many)
    return backup


def _is_copy(path: Path, data: bytes) -> bool:
    return path.is_file() and not path.is_symlink() and path.read_bytes() == data
