"""Links from a report to the photographs themselves, where a way leads there that names no other folder.

A report beside the dump, below it or in a folder beside it may go up and into the dump by the dump's own
name, which it shows anyway. Any other way would tell how the photographer's folders are called.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote, quote_from_bytes

from audit.disk.dumps import Dump, parts

ESCAPE = "\\"


@dataclass(frozen=True)
class Ways:
    """From a folder of pages to the folder of each dump; `leads` is by what paths of the table begin with."""

    leads: Mapping[str, str]

    def to(self, shown: str) -> str:
        """The address of a file of the table, percent-encoded, or "" where no link may be given.

        A name with an escape in it is not the file's own.
        """
        if ESCAPE in shown:
            return ""
        for begins, way in self.leads.items():
            if shown.startswith(begins):
                below = quote(shown.removeprefix(begins), errors=sys.getfilesystemencodeerrors())
                return f"{way}/{below}"
        return ""


def ways(dump: Dump | None, folder: Path) -> Ways:
    """The ways from a folder of pages [an existing folder] to a dump."""
    if dump is None:
        return Ways({})
    found = {begins: _way(top, folder) for begins, top in parts(dump)}
    return Ways({begins: way for begins, way in found.items() if way})


def _way(top: Path, folder: Path) -> str:
    """Up, and into the dump; "" where the two have no common parent but the root, or one further up."""
    top, folder = top.resolve(), folder.resolve()
    parent = top.parent
    if parent == Path(parent.anchor) or not folder.is_relative_to(parent):
        return ""
    return quote_from_bytes(os.fsencode(Path(os.path.relpath(top, folder)).as_posix()))
