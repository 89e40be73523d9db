"""The list of what this program wrote into a folder, and the removing of exactly that.

A manifest is a text file in the folder itself. It is only ever added to: a line before a file is begun, one
with its size and digest when it is written, and a last line when all is. So it is at any moment a journal of
what can be ours, and a whole folder of ours is told from one that was left half made.
"""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from audit.disk.marker import OUTPUT_MARKER
from audit.disk.regular import open_regular

DEMO_MARKER = ".cornerstop-demo"
HEAD = "cornerstop list 1: files of this folder that cornerstop may remove while they are unchanged\n"
MOST_BYTES = 100_000_000
BEGUN, FILE, FOLDER, LINK, WHOLE = "begun", "file", "folder", "link", "whole"


@dataclass
class Manifest:
    """What a manifest says: each file's size and digest (None: begun only), folders, links with targets."""

    files: dict[str, tuple[int, str] | None] = field(default_factory=dict)
    folders: list[str] = field(default_factory=list)
    links: dict[str, str] = field(default_factory=dict)
    whole: bool = False


def read_manifest(path: Path) -> Manifest | None:
    """The manifest in a file; None where it is no manifest of ours. A torn last line counts for nothing."""
    if path.is_symlink():  # somebody's: no list of ours is a link
        return None
    try:
        with open_regular(path) as file:
            text = file.read(MOST_BYTES).decode("utf-8", "replace")
    except OSError:
        return None
    if not text.startswith(HEAD):  # a first line that was never finished is ours too
        return Manifest() if HEAD.startswith(text) else None
    found = Manifest()
    for line in text[len(HEAD) :].split("\n")[:-1]:
        _take(found, line.split("\t"))
    return found


def _take(found: Manifest, words: list[str]) -> None:
    """Adds what one line says; a line that names anything outside the folder says nothing."""
    found.whole = words == [WHOLE]
    if found.whole or len(words) < 2 or not _inside(words[1]):
        return
    match words:
        case [kind, name] if kind == BEGUN:
            found.files[name] = None
        case [kind, name, size, digest] if kind == FILE and size.isdecimal():
            found.files[name] = int(size), digest
        case [kind, name] if kind == FOLDER:
            found.folders.append(name)
        case [kind, name, target] if kind == LINK:
            found.links[name] = target


def _inside(name: str) -> bool:
    parts = PurePosixPath(name).parts
    return bool(parts) and "\\" not in name and ".." not in parts and not PurePosixPath(name).is_absolute()


def remove_listed(folder: Path, marker: str = OUTPUT_MARKER) -> list[str]:
    """Removes what the folder's manifest lists and that is unchanged, the manifest, and emptied folders.

    Gives the names of all else, which stays where it lies. Without a manifest nothing is removed but an empty
    folder. Raises OSError where the disk refuses.
    """
    listed = read_manifest(folder / marker)
    if listed is not None and _plain(folder):
        for name in unchanged(folder, listed):
            (folder / name).unlink()  # deletes: what the manifest lists, with the size and digest it had
        for name in reversed(listed.folders):
            if _through_folders(folder, f"{name}/."):
                with suppress(OSError):
                    (folder / name).rmdir()  # deletes: an empty folder that we made
        (folder / marker).unlink()  # deletes: our own list, which read_manifest knew by its first line
    with suppress(OSError):
        folder.rmdir()  # deletes: an empty folder that we made
    return left_in(folder)


def unchanged(folder: Path, listed: Manifest) -> Iterator[str]:
    """Names of the listed files and links that lie in the folder as they were written.

    A file that was begun and never finished counts too, as long as the manifest itself is unfinished.
    """
    for name, told in listed.files.items():
        if _through_folders(folder, name) and _as_written(folder / name, told, listed.whole):
            yield name
    for name, target in listed.links.items():
        path = folder / name
        if _through_folders(folder, name) and path.is_symlink() and str(path.readlink()) == target:
            yield name


def strangers(folder: Path, listed: Manifest, marker: str = OUTPUT_MARKER) -> list[str]:
    """Names of files in the folder that the manifest does not list, or that are not as it says."""
    ours = {*unchanged(folder, listed), marker}
    return [name for name in left_in(folder) if name not in ours]


def left_in(folder: Path) -> list[str]:
    """Names of all files, links and empty folders below a folder; none where there is no folder."""
    empty = [
        Path(here).relative_to(folder).as_posix()
        for here, folders, files in os.walk(folder)
        if not folders and not files and Path(here) != folder
    ]
    return sorted([*files_in(folder), *empty])


def files_in(folder: Path) -> list[str]:
    """Names of all files below a folder, and of links, which are not followed."""
    found = []
    for here, folders, files in os.walk(folder):
        place = Path(here)
        links = [name for name in folders if (place / name).is_symlink()]
        found += [(place / name).relative_to(folder).as_posix() for name in (*files, *links)]
    return sorted(found)


def _as_written(path: Path, told: tuple[int, str] | None, whole: bool) -> bool:
    try:
        status = path.lstat()
        if not stat.S_ISREG(status.st_mode):
            return False
        if told is None:
            return not whole
        if status.st_size != told[0]:
            return False
        with open_regular(path) as file:
            return hashlib.file_digest(file, "sha256").hexdigest() == told[1]
    except OSError:
        return False


def _through_folders(folder: Path, name: str) -> bool:
    """Whether the way from the folder to a name leads through real folders only, never through a link."""
    return all(_plain(folder / part) for part in list(PurePosixPath(name).parents)[:-1])


def _plain(folder: Path) -> bool:
    try:
        return stat.S_ISDIR(folder.lstat().st_mode)
    except OSError:
        return False
