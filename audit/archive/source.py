"""The files of a dump or a card, all of them, and their bytes: each read once, an error tried again."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from audit.disk.card import CHUNK, CardFile, SilentCardError
from audit.disk.dumps import Dump, parts
from audit.errors import AuditError
from audit.message.shown import shown_name


@dataclass(frozen=True)
class SourceFile:
    """A file by its path below the dump, in bytes; `problem` says why it cannot be copied, or is empty."""

    name: bytes
    path: Path
    size: int = 0
    time_ns: int = 0
    problem: str = ""

    @property
    def stamp(self) -> str:
        """What tells that it is still the same file as before."""
        return f"{self.size} {self.time_ns}"


class SourceError(Exception):
    """A file of the dump cannot be read; the text says why."""


def files_in(dump: Dump) -> list[SourceFile]:
    """All that is no folder in a dump; of several, each name begins with its dump's."""
    return [
        replace(file, name=start.encode("utf-8") + file.name)
        for start, top in parts(dump)
        for file in files_of(top)
    ]


def files_of(root: Path) -> list[SourceFile]:
    """All that is no folder below a folder, in the order of the names' bytes. Links are not followed."""
    if not root.is_dir():
        raise AuditError(f"{shown_name(str(root))}: no such folder; name the folder that holds the pictures")
    return sorted(_walk(root, root), key=lambda file: file.name)


def _walk(root: Path, folder: Path) -> Iterator[SourceFile]:
    try:
        with os.scandir(folder) as listing:
            items = list(listing)
    except OSError as error:
        yield SourceFile(_name(root, folder), folder, problem=f"cannot be listed: {error.strerror or error}")
        return
    for item in items:
        path = Path(item.path)
        if item.is_dir(follow_symlinks=False):
            yield from _walk(root, path)
        else:
            yield _file(root, path)


def _file(root: Path, path: Path) -> SourceFile:
    name = _name(root, path)
    try:
        status = path.lstat()
    except OSError as error:
        return SourceFile(name, path, problem=str(error.strerror or error))
    if not stat.S_ISREG(status.st_mode):
        link = stat.S_ISLNK(status.st_mode)
        return SourceFile(name, path, problem="symbolic link, not followed" if link else "is no regular file")
    return SourceFile(name, path, status.st_size, status.st_mtime_ns)


def _name(root: Path, path: Path) -> bytes:
    return os.fsencode(path.relative_to(root).as_posix())


def chunks_of(file: SourceFile) -> Iterator[bytes]:
    """Its bytes. Raises SourceError where they cannot be read, or the file changes meanwhile.

    A card that falls silent is an AuditError: no other file of it can be read either.
    """
    try:
        size = 0
        with CardFile(file.path) as opened:
            if (opened.status.st_size, opened.status.st_mtime_ns) != (file.size, file.time_ns):
                raise SourceError("changed while it was archived")
            while data := opened.read(CHUNK):
                size += len(data)
                yield data
        if size != file.size:
            raise SourceError("changed while it was archived")
    except SilentCardError as error:
        raise AuditError(
            f"{shown_name(str(file.path))}: {error.strerror}; what is copied stays under a hidden name: put "
            "the card in again, and run the same command again to go on"
        ) from None
    except (OSError, ValueError) as error:
        raise SourceError(str(getattr(error, "strerror", None) or error)) from None
