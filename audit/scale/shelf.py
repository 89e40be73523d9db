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
from audit.message.text import marked
from audit.scale.store import KIT, is_address, listed
from audit.scan.folder import housekeeping

LOOSE = marked("not read: it lies beside the trips, in none of their folders")
LINK = marked("symbolic link, not followed")
OURS = marked("a folder of reports")


@dataclass
class Shelf:
    """Folders, or their addresses, by the path below the shelf; what else lies there, with why it is left."""

    root: str
    folders: dict[str, str] = field(default_factory=dict)
    left: list[tuple[str, str]] = field(default_factory=list)


def shelf_of(root: str, depth: int = 1, skip: Collection[Path] = ()) -> Shelf:
    """The folders that lie so deep below `root`; 1: those in it. `skip` are folders of our own output.

    Raises AuditError where the shelf itself cannot be listed.
    """
    shelf = Shelf(root)
    _list(shelf, root, "", depth, skip)
    return shelf


def _list(shelf: Shelf, folder: str, shown: str, depth: int, skip: Collection[Path]) -> None:
    try:
        items = _items(folder)
    except AuditError:
        if not shown:
            raise
        shelf.left.append((shown.rstrip("/"), marked("folder that cannot be listed")))
        return
    if shown and any(name == OUTPUT_MARKER for name, _ in items):
        shelf.left.append((shown.rstrip("/"), OURS))
        return
    for name, kind in items:
        place, told = f"{folder.rstrip('/')}/{name}", shown + shown_name(name)
        if kind != "folder":
            if name == KIT and depth == 1:  # an audit finds the kit beside its dump
                continue
            shelf.left.append((told, LINK if kind == "link" else LOOSE))
        elif reason := housekeeping(name):
            shelf.left.append((told, reason))
        elif not is_address(place) and any(lies_in(Path(place), own) for own in skip):
            continue
        elif depth > 1:
            _list(shelf, place, f"{told}/", depth - 1, skip)
        else:
            shelf.folders[told] = place


def _items(folder: str) -> list[tuple[str, str]]:
    """Names in a folder in their order, and what each is: folder, link or file. Raises AuditError."""
    if is_address(folder):
        return [(name, "folder" if below else "file") for name, below in listed(folder)]
    try:
        with os.scandir(folder) as listing:
            found = sorted(listing, key=lambda item: os.fsencode(item.name))
    except OSError as error:
        words = f"{shown_name(folder)}: cannot be listed: {error.strerror}"
        raise AuditError(f"{words}; name the folder that holds the trips") from None
    return [
        (one.name, "folder" if one.is_dir(follow_symlinks=False) else "link" if one.is_symlink() else "file")
        for one in found
    ]
