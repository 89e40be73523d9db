"""Walk a dump: every file found is a picture, a companion of one, or passed over with a reason."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from audit.disk.marker import OUTPUT_MARKER
from audit.disk.runs import not_ours
from audit.errors import AuditError
from audit.message.shown import shown_name
from audit.message.text import marked, say
from audit.scan.formats import CAMERA_ENDINGS, EXPORT_ENDINGS

Kind = Literal["picture", "export", "thumbnail", "passed"]
"""An export is a picture if it holds exposure data, which only a look into it can tell."""
Role = Literal[
    "shadow", "database", "hidden", "declaration", "picture", "export", "sidecar", "video", "other"
]

_RAW = (
    *(
        "dng",
        "cr2",
        "cr3",
        "crw",
        "nef",
        "nrw",
        "arw",
        "sr2",
        "srf",
        "pef",
        "orf",
        "rw2",
        "raf",
        "iiq",
        "srw",
    ),
    *("rwl", "3fr", "fff", "kdc", "dcr", "mef", "mos", "erf", "gpr", "mrw", "x3f"),
)
PICTURE_ENDINGS = frozenset(CAMERA_ENDINGS + _RAW)
_SIDECARS = frozenset({"xmp", "thm", "wav", "xml"})
_VIDEOS = frozenset({"mov", "mp4", "m4v", "avi", "mts", "m2ts", "mpg", "3gp"})
KEEP_FILE = "keep.txt"
_DECLARATIONS = frozenset({"kit.toml", "filters.toml", KEEP_FILE})
_DATABASES = frozenset({"thumbs.db", "ehthumbs.db", "desktop.ini"})
_HOUSEKEEPING = frozenset({"misc", "system volume information", "$recycle.bin", "lost+found"})

_REASONS: dict[Role, str] = {
    "shadow": marked("shadow file of another system"),
    "database": marked("thumbnail or folder database"),
    "hidden": marked("hidden file"),
    "declaration": marked("read as kit or declaration"),
    "sidecar": marked("sidecar, left alone"),
    "video": marked("video"),
    "other": marked("not a picture, by its ending"),
}
"""Why a file is passed over."""
NO_EXPOSURE = marked("a picture without exposure data")
IN_REPORT = marked("in a folder of reports, but none of their files: move it elsewhere to have it read")


@dataclass(frozen=True)
class Entry:
    """One file that was seen. `shown` is its path below the dump as text, whatever bytes its name has.

    `role` is what its name says that it is.
    """

    path: Path
    shown: str
    kind: Kind
    reason: str = ""
    role: Role = "other"

    @property
    def folder(self) -> str:
        """Folder below the dump; '.' is the dump itself."""
        return self.shown.rpartition("/")[0] or "."

    @property
    def stem(self) -> str:
        """Name without ending."""
        return split_ending(self.shown.rpartition("/")[2])[0]

    @property
    def ending(self) -> str:
        """Ending in lower case, without the dot."""
        return split_ending(self.shown)[1]


def walk(root: Path, skip: Collection[Path] = ()) -> list[Entry]:
    """Every file below `root`, files before folders, both in the order of their names' bytes.

    Folders of `skip`, and those that hold `OUTPUT_MARKER`, are our own output: not walked, and what is ours
    in them is not counted; a stranger's file in the latter is passed over.
    Symbolic links are listed and never followed. Raises `AuditError` where `root` itself cannot be listed.
    """
    if not root.is_dir():
        raise AuditError(
            f"{shown_name(os.fspath(root))}: no such folder; name the folder that holds the pictures"
        )
    ours = {_identity(folder.stat()) for folder in skip if folder.exists()}
    try:
        return list(_walk(root, ours))
    except OSError as error:
        raise AuditError(f"{shown_name(os.fspath(root))}: cannot be listed: {error.strerror}") from error


def tells_choice(entry: Entry) -> bool:
    """Whether the file may say which frames the photographer chose: keep.txt or an XMP sidecar."""
    name = entry.shown.rpartition("/")[2].lower()
    return (name == KEEP_FILE and entry.role == "declaration") or (
        entry.ending == "xmp" and entry.role == "sidecar"
    )


def split_ending(name: str) -> tuple[str, str]:
    """A name or path without its ending, and the ending in lower case without the dot."""
    stem, ending = os.path.splitext(name)  # noqa: PTH122 (a shown name is text, not a path that exists)
    return stem, ending[1:].lower()


def _identity(status: os.stat_result) -> tuple[int, int]:
    return status.st_dev, status.st_ino


def _walk(root: Path, ours: set[tuple[int, int]]) -> Iterator[Entry]:
    # Folders still to be walked, the next one last, each with why its files are passed over, or "".
    waiting = [(root, "")]
    while waiting:
        folder, housekeeping = waiting.pop()
        try:
            items = _listing(folder)
        except OSError as error:
            if folder == root:
                raise
            reason = say("folder that cannot be listed: {reason_written}", reason_written=error.strerror)
            yield Entry(folder, _shown(root, folder), "passed", reason)
            continue
        if folder != root and any(item.name == OUTPUT_MARKER for item in items):
            yield from (_foreign(root, folder / name) for name in not_ours(folder))
            continue
        below = []
        for item in items:
            if not item.is_dir(follow_symlinks=False):
                yield _classify(root, item, housekeeping)
            elif not ours or _identity(Path(item.path).lstat()) not in ours:
                below.append((Path(item.path), housekeeping or _housekeeping(item.name)))
        waiting += reversed(below)


def _foreign(root: Path, path: Path) -> Entry:
    return Entry(path, _shown(root, path), "passed", IN_REPORT)


def _listing(folder: Path) -> list[os.DirEntry[str]]:
    with os.scandir(folder) as listing:
        return sorted(listing, key=lambda item: os.fsencode(item.name))


def _shown(root: Path, path: Path) -> str:
    return shown_name(path.relative_to(root).as_posix())


def _housekeeping(name: str) -> str:
    if name.lower() in _HOUSEKEEPING:
        return say("inside {folder}: housekeeping of a camera or system", folder=shown_name(name))
    if name.startswith("."):
        return say("inside the hidden folder {folder}", folder=shown_name(name))
    return ""


def _classify(root: Path, item: os.DirEntry[str], housekeeping: str) -> Entry:
    path = Path(item.path)
    shown = _shown(root, path)
    if item.is_symlink():
        return Entry(path, shown, "passed", marked("symbolic link, not followed"))
    if not item.is_file(follow_symlinks=False):
        return Entry(path, shown, "passed", marked("neither a file nor a folder"))
    if housekeeping:
        return Entry(path, shown, "passed", housekeeping)
    name, ending = item.name.lower(), split_ending(item.name)[1]
    role = _role(name, ending)
    if role == "picture":
        return Entry(path, shown, "picture", role=role)
    if role == "export":
        return Entry(path, shown, "export", NO_EXPOSURE, role)
    kind: Kind = "thumbnail" if ending == "thm" and role == "sidecar" else "passed"
    return Entry(path, shown, kind, _REASONS[role], role)


def _role(name: str, ending: str) -> Role:
    if name.startswith("._"):
        return "shadow"
    if name in _DATABASES or name == ".ds_store":
        return "database"
    if name.startswith("."):
        return "hidden"
    if name in _DECLARATIONS:
        return "declaration"
    if ending in PICTURE_ENDINGS:
        return "picture"
    if ending in EXPORT_ENDINGS:
        return "export"
    if ending in _SIDECARS:
        return "sidecar"
    return "video" if ending in _VIDEOS else "other"
