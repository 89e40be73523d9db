"""The rows of many files, read by the crew; whatever a file does to its reader, it has a row."""

from __future__ import annotations

import os
import stat
import zlib
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, get_args

from audit.crew.crew import crew_at_work
from audit.crew.process import Failed
from audit.disk.work import MEMORY_BYTES
from audit.message.text import marked, say
from audit.scan.containers import EMPTY
from audit.scan.folder import split_ending
from audit.scan.note import About, Note
from audit.scan.reader import HEAD_SUM, OUT_OF_MEMORY, TOOK_TOO_LONG
from audit.table.columns import SCAN

JOB = "audit.scan.job"
ENDED = marked("not read: the process that read it has ended, twice")
FAULT = marked("not read: its reader failed ({fault_name})")
NO_ROW = marked("not read: what its reader answered is no row")
_ABOUT = get_args(About)
_KINDS: dict[str, tuple[type, ...]] = {
    "text": (str,),
    "words": (str,),
    "real": (float, int),
    "whole": (int,),
    "flag": (bool,),
    "time": (datetime,),
    "bytes": (bytes,),
}
_MAY_BE = {column.name: _KINDS[column.kind.name] for column in SCAN if column.kind.name in _KINDS}
_MAY_BE[HEAD_SUM] = (int,)

Row = dict[str, Any]


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
        row = _checked(answer)
        return _unread(path, NO_ROW) if row is None else row
    match answer.why:
        case "time":
            return _unread(path, say(TOOK_TOO_LONG, seconds=limit_s))
        case "memory":
            return _unread(path, say(OUT_OF_MEMORY, gib=MEMORY_BYTES / 2**30))
        case "fault":
            return _unread(path, say(FAULT, fault_name=answer.detail))
    return _unread(path, ENDED)


def _checked(answer: Any) -> Row | None:
    """A row as it was sent, its notes made again; None where it is not of a row's shape."""
    if not isinstance(answer, dict) or not isinstance(answer.get("formats"), str):
        return None
    notes = [_note(pair) for pair in answer.pop("notes", None) or ()]
    if None in notes or not all(
        value is None or isinstance(value, _MAY_BE.get(name, ())) for name, value in answer.items()
    ):
        return None
    return {**answer, "notes": notes}


def _note(pair: Any) -> str | None:
    if not (isinstance(pair, list) and len(pair) == 2 and isinstance(pair[0], str) and pair[1] in _ABOUT):
        return None
    return Note(*pair) if pair[1] else pair[0]
