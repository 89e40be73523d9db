"""The archives below some folders; what cannot be read is named, and the others are used all the same."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from audit.archive.bag_info import OURS, read_bag_info
from audit.disk.regular import NOT_REGULAR, is_regular, open_regular
from audit.season.names import FINDINGS, TABLE

MOST_BYTES = 200_000_000
"""Of a text file; no archive's kit, findings or manifest comes near it."""


@dataclass(frozen=True)
class Archive:
    """One archive by its number, which follows the order of the paths."""

    number: int
    path: Path

    @property
    def table(self) -> Path:
        """Its frame table."""
        return self.path / TABLE


@dataclass(frozen=True, order=True)
class Problem:
    """What is wrong with an archive; `skipped`: nothing of it is counted."""

    path: Path
    why: str
    skipped: bool = True


def find(folders: Iterable[Path]) -> tuple[list[Archive], list[Problem]]:
    """The archives at or below the folders, each once, and those that lack a file."""
    bags = {os.path.realpath(bag): bag for folder in folders for bag in _bags(Path(os.path.abspath(folder)))}  # noqa: PTH100
    whole, problems = [], []
    for bag in sorted(bags.values()):
        why = _lacks(bag)
        if why:
            problems.append(Problem(bag, why))
        else:
            whole.append(bag)
    return [Archive(number, bag) for number, bag in enumerate(whole, 1)], problems


def _bags(folder: Path) -> Iterator[Path]:
    """Bags that this program made; what lies in a bag is its own, hidden folders are not looked into."""
    if (folder / "bagit.txt").is_file():
        if _is_ours(folder):
            yield folder
        return
    try:
        below = sorted(entry.name for entry in os.scandir(folder) if entry.is_dir(follow_symlinks=False))
    except OSError:
        return
    for name in below:
        if not name.startswith("."):
            yield from _bags(folder / name)


def _is_ours(folder: Path) -> bool:
    try:
        return OURS.lower() in read_bag_info(content(folder / "bag-info.txt"))
    except OSError:  # its other files say whose it is
        return (folder / TABLE).exists() or (folder / FINDINGS).exists()


def _lacks(bag: Path) -> str:
    """Why the archive cannot be read, "" where nothing is missing."""
    for name in (TABLE, FINDINGS):
        try:
            if not is_regular(bag / name):
                return f"{name} {NOT_REGULAR}"
        except (OSError, ValueError):
            return f"{name} is missing"
    try:
        os.fsencode(bag).decode("utf-8")
    except UnicodeDecodeError:
        return "its path is not UTF-8, which DuckDB needs; rename the folder"
    return ""


def content(path: Path) -> bytes:
    """A small file whole. Raises OSError."""
    with open_regular(path) as file:
        return file.read(MOST_BYTES)
