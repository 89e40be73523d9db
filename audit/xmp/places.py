"""Which file is the sidecar of a frame.

Name: that of the picture with .xmp in the place of its ending (XMP specification, September 2005, page 36),
or as one is called that lies there: `a.xmp` or `a.jpg.xmp` for `a.jpg`. Raw and JPEG of one shot are one
frame, and what is known is of the shot: they share `a.xmp`; where each has its own, each gets it. Two frames
of one name in a folder never share: theirs are `a.jpg.xmp` and `a.png.xmp`.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from audit.message.shown import alike
from audit.scan.folder import Entry, split_ending

ENDING = ".xmp"
BAG_FILE = "bagit.txt"
"""A folder that holds it is a bag (RFC 8493), whose files are never changed."""
Key = tuple[str, str]


@dataclass(frozen=True)
class Place:
    """A sidecar of a row of the table; `shown` is its path below the dump, `there` whether it exists."""

    row: int
    path: Path
    shown: str
    there: bool


def places(rows: Sequence[Mapping[str, Any]], entries: Iterable[Entry]) -> Iterator[Place]:
    """The sidecars of each frame; of frames in a bag, or whose file cannot be told from another, none."""
    seen = list(entries)
    named = Counter(entry.shown for entry in seen)
    paths = {entry.shown: entry.path for entry in seen if named[entry.shown] == 1}
    bags = [entry.folder for entry in seen if entry.shown.rpartition("/")[2] == BAG_FILE]
    shared = Counter(key for row in rows for key in _all_keys(row))
    for number, (row, found) in enumerate(zip(rows, beside(rows, seen), strict=True)):
        first = row["files"][0]
        if first not in paths or any(_lies_in(first, bag) for bag in bags):
            continue
        yield from (Place(number, entry.path, entry.shown, True) for entry in found)
        if not found:
            alone = shared[_keys(first)[0]] == 1
            path = paths[first].with_suffix(ENDING) if alone else _longer(paths[first])
            shown = f"{split_ending(first)[0] if alone else first}{ENDING}"
            yield Place(number, path, shown, False)


def beside(rows: Sequence[Mapping[str, Any]], entries: Iterable[Entry]) -> Iterator[list[Entry]]:
    """The sidecars that lie beside the files of each frame, and are of no other."""
    named: dict[Key, list[Entry]] = defaultdict(list)
    for entry in entries:
        if entry.role == "sidecar" and entry.ending == ENDING[1:]:
            named[entry.folder, alike(entry.stem)].append(entry)
    shared = Counter(key for row in rows for key in _all_keys(row))
    for row in rows:
        yield [entry for key in sorted(_all_keys(row)) if shared[key] == 1 for entry in named.get(key, ())]


def _all_keys(row: Mapping[str, Any]) -> set[Key]:
    return {key for file in row["files"] for key in _keys(file)}


def _longer(path: Path) -> Path:
    return path.with_name(path.name + ENDING)


def _keys(file: str) -> tuple[Key, Key]:
    """Folder and name of its sidecars without their ending."""
    folder, _, name = file.rpartition("/")
    return (folder or ".", alike(split_ending(name)[0])), (folder or ".", alike(name))


def _lies_in(file: str, folder: str) -> bool:
    return folder == "." or file.startswith(f"{folder}/")
