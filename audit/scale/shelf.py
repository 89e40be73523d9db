"""A shelf: folders that are dumps, each with its pictures, its kit and its declarations."""

from __future__ import annotations

import os
from collections.abc import Collection
from dataclasses import dataclass, field
from pathlib import Path

from audit.disk.apart import lies_in
from audit.disk.marker import OUTPUT_MARKER
from audit.errors import AuditError
from audit.message.shown import shown_name
from audit.message.text import marked, say
from audit.scan.folder import housekeeping

LOOSE = marked("not read: it lies beside the trips, in none of their folders")
LINK = marked("symbolic link, not followed")
OURS = marked("a folder of reports")
KIT = "kit.toml"


@dataclass
class Shelf:
    """Folders by the path below the shelf that is shown; what else lies there, with the reason it is left."""

    root: Path
    folders: dict[str, Path] = field(default_factory=dict)
    left: list[tuple[str, str]] = field(default_factory=list)


def shelf_of(root: Path, depth: int = 1, skip: Collection[Path] = ()) -> Shelf:
    """The folders that lie so deep below `root`; 1: those in it. `skip` are folders of our own output.

    Raises AuditError where the shelf itself cannot be listed.
    """
    shelf = Shelf(root)
    _list(shelf, root, "", depth, skip)
    return shelf


def _list(shelf: Shelf, folder: Path, shown: str, depth: int, skip: Collection[Path]) -> None:
    try:
        with os.scandir(folder) as listing:
            items = sorted(listing, key=lambda item: os.fsencode(item.name))
    except OSError as error:
        if not shown:
            words = f"{shown_name(os.fspath(folder))}: cannot be listed: {error.strerror}"
            raise AuditError(f"{words}; name the folder that holds the trips") from None
        reason = say("folder that cannot be listed: {reason_written}", reason_written=error.strerror or "")
        shelf.left.append((shown.rstrip("/"), reason))
        return
    if shown and any(item.name == OUTPUT_MARKER for item in items):
        shelf.left.append((shown.rstrip("/"), OURS))
        return
    for item in items:
        path, name = Path(item.path), shown + shown_name(item.name)
        if not item.is_dir(follow_symlinks=False):
            if item.name == KIT and depth == 1:  # an audit finds the kit beside its dump
                continue
            shelf.left.append((name, LINK if item.is_symlink() else LOOSE))
        elif reason := housekeeping(item.name):
            shelf.left.append((name, reason))
        elif any(lies_in(path, own) for own in skip):
            continue
        elif depth > 1:
            _list(shelf, path, f"{name}/", depth - 1, skip)
        else:
            shelf.folders[name] = path
