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
    "shadow",
    "database",
    "hidden",
    "declaration",
    "picture",
    "export",
    "sidecar",
    "video",
    "other",
    "unlisted",
]
Identity = tuple[int, int]

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
    in them is not counted; a stranger's file in the latter is passed over. So is, with its reason, each
    folder that cannot be listed (to its end), and one that leads back to a folder it lies in.
    Symbolic links are listed and never followed. Raises `AuditError` where `root` itself cannot be listed.
    """
    try:
        if not root.is_dir():
            raise AuditError(
                f"{shown_name(os.fspath(root))}: no such folder; name the folder that holds the pictures"
            )
        ours = {identity for folder in skip if (identity := _identity(folder)) is not None}
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


@dataclass(frozen=True)
class _Folder:
    """A folder to be walked: `shown` is its path below the dump ("" the dump itself, else with a "/" at its
    end), `housekeeping` why its files are passed over, or "", and `above` the folder it lies in."""

    path: Path
    shown: str
    identity: Identity | None
    housekeeping: str = ""
    above: _Folder | None = None

    def leads_back(self) -> bool:
        """Whether it is a folder that it lies in, by a mount or a junction: alike in number and in names."""
        above = self.above
        while above is not None:
            if self.identity is not None and self.identity == above.identity:
                return _names(self.path) == _names(above.path)
            above = above.above
        return False


def _identity(folder: Path) -> Identity | None:
    """What tells a folder from all others; None where the system does not say."""
    try:
        status = folder.stat()
    except (OSError, ValueError):
        return None
    return (status.st_dev, status.st_ino) if status.st_ino else None


def _walk(root: Path, ours: set[Identity]) -> Iterator[Entry]:
    waiting = [_Folder(root, "", _identity(root))]  # the next one last
    while waiting:
        folder = waiting.pop()
        if folder.leads_back():
            yield _passed(folder, marked("folder that leads back to one it lies in"))
            continue
        items, fault = _listing(folder.path)
        if fault is not None:
            if folder.above is None and not items:
                raise fault
            reason = say("folder that cannot be listed: {reason_written}", reason_written=fault.strerror)
            yield _passed(folder, reason, "unlisted")
        if folder.above is not None and any(item.name == OUTPUT_MARKER for item in items):
            for name in not_ours(folder.path):
                yield Entry(folder.path / name, folder.shown + shown_name(name), "passed", IN_REPORT)
            continue
        below = []
        for item in items:
            found = _look(folder, item)
            if isinstance(found, Entry):
                yield found
            elif found.identity is None or found.identity not in ours:
                below.append(found)
        waiting += reversed(below)


def _passed(folder: _Folder, reason: str, role: Role = "other") -> Entry:
    return Entry(folder.path, folder.shown.rstrip("/") or ".", "passed", reason, role)


def _listing(folder: Path) -> tuple[list[os.DirEntry[str]], OSError | None]:
    """What a folder holds, as far as the card tells it, and what kept it from telling all."""
    items: list[os.DirEntry[str]] = []
    fault = None
    try:
        with os.scandir(folder) as listing:
            for item in listing:
                items.append(item)
    except OSError as error:
        fault = error
    return sorted(items, key=lambda item: os.fsencode(item.name)), fault


def _names(folder: Path) -> list[str]:
    return [item.name for item in _listing(folder)[0]]


def _look(folder: _Folder, item: os.DirEntry[str]) -> Entry | _Folder:
    """A file, or a folder to be walked."""
    path, shown = Path(item.path), folder.shown + shown_name(item.name)
    try:
        if item.is_dir(follow_symlinks=False):
            reason = folder.housekeeping or housekeeping(item.name)
            return _Folder(path, f"{shown}/", _identity(path), reason, folder)
        return _classify(path, shown, item, folder.housekeeping)
    except OSError as error:  # where the listing does not say what it is, the card is asked
        reason = say("the card does not say what it is: {reason_written}", reason_written=error.strerror)
        return Entry(path, shown, "passed", reason)


def housekeeping(name: str) -> str:
    """Why no picture is looked for in a folder of this name; "" where one is."""
    if name.lower() in _HOUSEKEEPING:
        return say("inside {folder}: housekeeping of a camera or system", folder=shown_name(name))
    if name.startswith("."):
        return say("inside the hidden folder {folder}", folder=shown_name(name))
    return ""


def _classify(path: Path, shown: str, item: os.DirEntry[str], left_for: str) -> Entry:
    if item.is_symlink():
        return Entry(path, shown, "passed", marked("symbolic link, not followed"))
    if not item.is_file(follow_symlinks=False):
        return Entry(path, shown, "passed", marked("neither a file nor a folder"))
    if left_for:
        return Entry(path, shown, "passed", left_for)
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
