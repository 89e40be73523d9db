"""The rows of many files, read by the crew; whatever a file does to its reader, it has a row."""

from __future__ import annotations

import os
import stat
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from audit.crew.crew import crew_at_work
from audit.crew.process import Failed
from audit.disk.work import MEMORY_BYTES
from audit.message.text import marked, say
from audit.scan.containers import EMPTY
from audit.scan.folder import split_ending
from audit.scan.reader import HEAD_SUM, OUT_OF_MEMORY, TOOK_TOO_LONG, Row
from audit.scan.row_data import checked

JOB = "audit.scan.job"
ENDED = marked("not read: the process that read it has ended, twice")
FAULT = marked("not read: its reader failed ({fault_name})")
NO_ROW = marked("not read: what its reader answered is no row")


def rows(paths: Sequence[Path]) -> Iterator[Row]:
    """The row of each file, in their order: what `read_file` gives, or a `problem` where that gives nothing.

    An empty file is looked at from outside, and no worker is asked.
    """
    crew = crew_at_work()
    empty = [_is_empty(path) for path in paths]
    asked = [os.fspath(path) for path, nothing in zip(paths, empty, strict=True) if not nothing]
    answers = crew.each(JOB, asked)
    for path, nothing in zip(paths, empty, strict=True):
        yield _empty(path) if nothing else _row(path, next(answers), crew.limit_s)


def _is_empty(path: Path) -> bool:
    try:
        status = path.stat(follow_symlinks=False)
    except (OSError, ValueError):
        return False
    return stat.S_ISREG(status.st_mode) and not status.st_size


def _empty(path: Path) -> Row:
    return {**_unread(path, EMPTY), "size_bytes": 0, HEAD_SUM: zlib.crc32(b"")}


def _unread(path: Path, problem: str) -> Row:
    return {"formats": split_ending(path.name)[1].upper(), "problem": problem, "notes": []}


def _row(path: Path, answer: Any, limit_s: float) -> Row:
    if not isinstance(answer, Failed):
        row = checked(answer)
        return _unread(path, NO_ROW) if row is None else row
    match answer.why:
        case "time":
            return _unread(path, say(TOOK_TOO_LONG, seconds=limit_s))
        case "memory":
            return _unread(path, say(OUT_OF_MEMORY, gib=MEMORY_BYTES / 2**30))
        case "fault":
            return _unread(path, say(FAULT, fault_name=answer.detail))
    return _unread(path, ENDED)
