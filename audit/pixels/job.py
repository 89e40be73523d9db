"""The job of a worker: the small picture of one frame, as a file of kept ones holds it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import pandas as pd

from audit.crew.crew import crew_at_work
from audit.crew.process import Failed
from audit.disk.dumps import Dump, Dumps
from audit.exposure.partitions import partition_of
from audit.pixels.cache import Caught
from audit.pixels.sources import Row, Sketches
from audit.table.column import missing
from audit.table.columns import records

JOB = "audit.pixels.job"
FRAMES_TOGETHER = 16
NUMBERS = ("preview_offset", "preview_bytes", "width_px", "height_px", "orientation")
LOOKED_AT = ("frame", "files", "preview_file", *NUMBERS)
"""Columns from which a small picture is made."""


def take_from_crew(pictures: Sketches, frames: pd.DataFrame) -> None:
    """Has the crew at work make the small pictures that are not known yet, partition by partition.

    Where a worker fails over one, it is made here when it is asked for.
    """
    order = partition_of(frames).sort_values(kind="stable").index
    rows = (row for row in records(frames.loc[order], LOOKED_AT) if not pictures.knows(row))
    pictures.take(_made(pictures, rows))


def work(task: list[Any], _limit_s: float) -> list[list[bytes]]:
    """Key and sealed value of the small picture of a frame; none where it has none."""
    dump, mode, row = task
    caught = Caught()
    with Sketches(_dump(dump), mode, caught) as pictures:
        pictures.of(row)
    return caught.made


def _made(pictures: Sketches, rows: Iterable[Row]) -> Iterator[tuple[bytes, bytes]]:
    dump = _plain_dump(pictures.dump)
    tasks = ([dump, pictures.mode, _plain(row)] for row in rows)
    for answer in crew_at_work().each(JOB, tasks, FRAMES_TOGETHER):
        yield from [] if isinstance(answer, Failed) else map(tuple, answer)


def _plain(row: Row) -> dict[str, Any]:
    """The row as plain data."""
    told = {name: None if missing(row[name]) else int(row[name]) for name in NUMBERS}
    file = row["preview_file"]
    return told | {
        "frame": str(row["frame"]),
        "files": list(map(str, row["files"])),
        "preview_file": file if isinstance(file, str) else None,
    }


def _plain_dump(dump: Dump) -> list[Any]:
    if isinstance(dump, Path):
        return [str(dump.resolve())]
    return [{name: str(top.resolve()) for name, top in dump.named.items()}, dict(dump.spelt)]


def _dump(told: list[Any]) -> Dump:
    if len(told) == 1:
        return Path(told[0])
    return Dumps({name: Path(top) for name, top in told[0].items()}, told[1])
