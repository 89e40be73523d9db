"""A folder while it is filled: under a hidden name, with its manifest kept up line by line."""

from __future__ import annotations

import ctypes
import hashlib
import os
import sys
from collections.abc import Iterable
from contextlib import suppress
from io import FileIO
from pathlib import Path, PurePosixPath

from audit.disk.manifest import BEGUN, FILE, FOLDER, HEAD, LINK, WHOLE, remove_listed
from audit.disk.marker import OUTPUT_MARKER
from audit.disk.process import temporary_name


class Building:
    """A new folder `path` for files of ours. Every method raises OSError where the disk refuses."""

    def __init__(self, parent: Path, marker: str = OUTPUT_MARKER) -> None:
        self.path = parent / temporary_name()
        self._marker = marker
        self._folders: set[PurePosixPath] = {PurePosixPath()}
        self._list: FileIO | None = None
        self.placed = False
        try:
            self.path.mkdir()
            self._list = FileIO(self.path / marker, "xb")  # deletes: nothing: only a new file is opened
            self._note_bytes(HEAD.encode())
        except BaseException:
            self.drop()
            raise

    @classmethod
    def reopened(cls, folder: Path, marker: str = OUTPUT_MARKER) -> Building:
        """A folder that was finished already, to be changed once more and moved."""
        building = cls.__new__(cls)
        building.path, building.placed, building._marker = folder, False, marker
        building._folders = {PurePosixPath()}
        building._list = FileIO(folder / marker, "ab")  # deletes: nothing: is only added to
        return building

    def write(self, name: str, data: bytes | str | Iterable[str | bytes]) -> None:
        """Writes one file, of one piece or of many that are never in memory together; its folders are made.

        A file of this name that was written before is replaced.
        """
        path = PurePosixPath(name)
        self._make(path.parent)
        self._note(BEGUN, name)
        size, digest = 0, hashlib.sha256()
        with (self.path / path).open("wb") as file:  # deletes: what we wrote ourselves into our own folder
            for part in (data,) if isinstance(data, bytes | str) else data:
                content = part.encode("utf-8") if isinstance(part, str) else part
                file.write(content)
                digest.update(content)
                size += len(content)
        self._note(FILE, name, str(size), digest.hexdigest())

    def link(self, name: str, target: str) -> None:
        """Makes a symbolic link, in place of one of this name that was made before."""
        self._note(LINK, name, target)
        with suppress(FileNotFoundError):
            (self.path / name).unlink()  # deletes: a link that this folder's list says we made
        (self.path / name).symlink_to(target)

    def finish(self) -> None:
        """Says in the manifest that all is written, once the disk holds it."""
        self._note(WHOLE)
        sync(self.path)

    def move(self, target: Path) -> None:
        """Puts the finished folder at its place, in one step."""
        self.close()  # Windows moves no folder in which a file is open
        try:
            self.path.rename(target)  # deletes: at most an empty folder; onto any other it fails
        except OSError:
            self._list = FileIO(self.path / self._marker, "ab")  # deletes: nothing: is only added to
            raise
        self.path, self.placed = target, True

    def drop(self) -> None:
        """Removes what was written, unless it was put in place."""
        self.close()
        if not self.placed and self.path.is_dir():
            remove_listed(self.path, self._marker)

    def close(self) -> None:
        """Ends the work on the folder, which stays as it is."""
        if self._list is not None:
            self._list.close()
            self._list = None

    def _make(self, folder: PurePosixPath) -> None:
        for part in (*reversed(folder.parents), folder):
            if part not in self._folders:
                self._note(FOLDER, part.as_posix())
                (self.path / part).mkdir()
                self._folders.add(part)

    def _note(self, *words: str) -> None:
        self._note_bytes(("\t".join(words) + "\n").encode())

    def _note_bytes(self, line: bytes) -> None:
        """Straight to the file, without a buffer: the list is never behind the folder."""
        if self._list is None:
            raise ValueError(f"{self.path}: is closed")
        rest = memoryview(line)
        while rest:
            rest = rest[self._list.write(rest) :]


def sync(folder: Path) -> None:
    """Has the system put all that was written below a folder on the disk, as far as it can be told to."""
    if sys.platform == "linux" and _sync_file_system(folder):
        return
    for here, _, files in os.walk(folder):
        for name in files:
            sync_one(Path(here) / name)
        sync_one(Path(here))


def sync_one(path: Path) -> None:
    """The same for one file, or for the names in one folder."""
    with suppress(OSError):  # some systems know no syncing of folders, some file systems none at all
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _sync_file_system(folder: Path) -> bool:
    """syncfs(2): one call for thousands of small files, where fsync takes one wait for each."""
    try:
        handle = os.open(folder, os.O_RDONLY)
        try:
            return bool(ctypes.CDLL(None).syncfs(handle) == 0)
        finally:
            os.close(handle)
    except (OSError, AttributeError):
        return False
