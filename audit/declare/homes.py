"""In which declaration a frame is spoken of, and how it is named there."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from audit.declare.index import FrameIndex


def home_of(folder: str, declared: Collection[str]) -> str:
    """The nearest folder above that has a declaration, or the folder itself."""
    above = [d for d in declared if d == "." or folder == d or folder.startswith(d + "/")]
    return max(above, key=lambda d: -1 if d == "." else len(d), default=folder)


def names_below(run: Sequence[int], index: FrameIndex, home: str) -> Iterator[str]:
    """The names of some frames as they are written in the declaration of a folder."""
    for row in run:
        inside = index.folders[row]
        below = "" if inside == home else f"{inside if home == '.' else inside[len(home) + 1 :]}/"
        yield below + index.short(row)
