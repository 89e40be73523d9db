"""In which declaration a frame is spoken of, and how it is named there."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence

import tomlkit

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


def files_key(names: Sequence[str]) -> str:
    """The key of a span for frames that follow one another, by its first and last name."""
    return f"files = [{quoted(dict.fromkeys((names[0], names[-1])))}]"


def quoted(names: Iterable[str]) -> str:
    """Names as the items of a list in TOML."""
    return ", ".join(tomlkit.item(name).as_string() for name in names)
