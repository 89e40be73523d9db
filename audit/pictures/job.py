"""The job of a worker: the larger view and the cuts of one frame."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from audit.disk.dumps import Dumps
from audit.pictures.originals import seen
from audit.pictures.seen_data import packed


def work(task: list[Any], limit_s: float) -> list[Any]:
    """The packed pictures, if any, why there is no larger view, and why there are no cuts."""
    (folder, named, spelt), row, full = task
    dump = Dumps({name: Path(top) for name, top in named.items()}, spelt) if named else Path(folder)
    found = seen(dump, row, full=full, limit_s=limit_s)
    return [None if found.larger is None else packed(found), found.why, found.why_no_cuts]
