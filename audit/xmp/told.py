"""What others wrote into a sidecar: time of capture, title and rights. Shown, and used for nothing else."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

import pandas as pd

from audit.disk.card import read_part
from audit.scan.folder import Entry
from audit.table.columns import filled, records
from audit.xmp import tree
from audit.xmp.merge import placed
from audit.xmp.names import DATE_CREATED, RIGHTS, TIME_ORIGINAL, TITLE, short
from audit.xmp.packet import MOST_BYTES, NotXmpError, read
from audit.xmp.places import beside
from audit.xmp.tree import Nodes

MOST_CHARACTERS = 1_000


@dataclass(frozen=True)
class Told:
    """What a sidecar tells; None where it does not."""

    time: datetime | None = None
    title: str | None = None
    rights: str | None = None


def told(data: bytes) -> Told:
    """What these bytes tell. A time of ours is not counted. Raises NotXmpError."""
    nodes = read(data).nodes
    ours = placed(tree.own_values(nodes)).get(short(DATE_CREATED), set())
    times = [tree.value(nodes, name) for name in (DATE_CREATED, TIME_ORIGINAL)]
    time = next((at for words in times if words not in ours and (at := _time(words)) is not None), None)
    return Told(time, _words(nodes, TITLE), _words(nodes, RIGHTS))


def add_told(frames: pd.DataFrame, entries: Iterable[Entry]) -> pd.DataFrame:
    """Fills the sidecar columns; of several sidecars the first that tells it, and nothing of a broken one."""
    found = [_together(of_row) for of_row in beside(records(frames, ["files"]), entries)]
    return filled(
        frames,
        {
            "sidecar": [names for names, _ in found],
            "sidecar_time": [one.time for _, one in found],
            "sidecar_title": [one.title for _, one in found],
            "sidecar_rights": [one.rights for _, one in found],
        },
    )


def _together(entries: Iterable[Entry]) -> tuple[list[str], Told]:
    names, all_told = [], Told()
    for entry in entries:
        try:
            one = told(read_part(entry.path, 0, MOST_BYTES + 1))
        except (OSError, NotXmpError):  # told where its rating is read
            continue
        if one != Told():
            names.append(entry.shown)
        all_told = Told(all_told.time or one.time, all_told.title or one.title, all_told.rights or one.rights)
    return names, all_told


def _words(nodes: Nodes, name: str) -> str | None:
    """The default of a choice of languages, else its first."""
    element = tree.find(nodes, name)
    item = None if element is None else tree.default_item(element)
    words = tree.text(item) if item is not None else next(iter(tree.items(nodes, name)), "")
    return words.strip()[:MOST_CHARACTERS] or None


def _time(words: str | None) -> datetime | None:
    """A date with a time of day as XMP has it; its zone is left out, as the table's times are local."""
    try:
        found = datetime.fromisoformat((words or "").strip())
    except ValueError:
        return None
    return found.replace(tzinfo=None) if "T" in (words or "") else None
