"""Partitions of a dump: the smallest sets of folders that no scene, setup, sequence or set crosses."""

from __future__ import annotations

import pandas as pd

TOGETHER = ("scene", "setup", "sequence_of", "bracket")
"""Columns that name what frames belong to: all frames of one value are of one partition."""


def partition_of(frames: pd.DataFrame) -> pd.Series:
    """The partition of each frame: the first, by name, of the folders that belong together.

    Setups run on where a camera begins its next folder, and over two cards; a frame may have files in
    several folders. The work grows with the number of frames.
    """
    joined = Joined()
    folders = frames["files"].map(lambda files: sorted({_folder(file) for file in files}))
    first = folders.str[0]
    for one in set(map(tuple, folders)):
        for other in one:
            joined.join(one[0], other)
    for name in TOGETHER:
        pairs = pd.DataFrame({"of": frames[name].astype(object), "folder": first}).dropna().drop_duplicates()
        start = pairs.groupby("of", sort=False)["folder"].transform("first")
        for one, other in zip(start, pairs["folder"], strict=True):
            joined.join(one, other)
    return first.map({folder: joined.first(folder) for folder in first.unique()})


def _folder(file: str) -> str:
    return file.rpartition("/")[0] or "."


class Joined:
    """Names that belong together, each set known by its first."""

    def __init__(self) -> None:
        self._led: dict[str, str] = {}

    def first(self, name: str) -> str:
        """The first of the set that a name is in."""
        way = [name]
        while (before := self._led.get(way[-1], way[-1])) != way[-1]:
            way.append(before)
        self._led.update(dict.fromkeys(way, way[-1]))
        return way[-1]

    def join(self, one: str, other: str) -> None:
        """Makes the sets of two names one."""
        first, last = sorted((self.first(one), self.first(other)))
        self._led[last] = first
