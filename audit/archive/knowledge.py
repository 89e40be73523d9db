"""What is known of the pictures, as files of data/knowledge: report, tables of files, what was declared."""

from __future__ import annotations

import csv
import io
import os
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from audit import report
from audit.archive.names import safe_name
from audit.archive.package import (
    FILES,
    FILES_COLUMNS,
    KNOWLEDGE,
    LEFT,
    LEFT_COLUMNS,
    PICTURES,
    TEXT,
    TWINS,
    TWINS_COLUMNS,
)
from audit.archive.source import SourceFile
from audit.declare.read import FILE_NAME
from audit.disk.marker import OUTPUT_MARKER
from audit.disk.workplace import Kept
from audit.message.shown import shown_name
from audit.message.spreadsheet import csv_text, disarmed, restored
from audit.result import Result

DECLARATIONS = f"{KNOWLEDGE}/declarations"
KIT = f"{KNOWLEDGE}/kit.toml"
Row = tuple[str, ...]


def as_archived(result: Result, title: str, kit: str | None) -> Result:
    """A result as the bag tells it: the kit is the bag's own, wherever it was read."""
    mistakes = (replace(one, path="kit.toml") if one.path == kit else one for one in result.mistakes)
    return replace(result, title=title, mistakes=tuple(sorted(mistakes)))


def report_files(result: Result) -> dict[str, bytes]:
    """Pages and data files of a report, by their paths in the bag."""
    with tempfile.TemporaryDirectory(prefix="cornerstop-") as folder:
        made = report.write(result, Path(folder) / "report").run
        return {
            f"{KNOWLEDGE}/{path.relative_to(made).as_posix()}": path.read_bytes()
            for path in sorted(made.rglob("*"))
            if path.is_file() and path.name != OUTPUT_MARKER
        }


def declarations_below(folder: Path, below: str = "") -> dict[str, bytes]:
    """Every filters.toml below a folder, as data/knowledge/declarations keeps it, or `below` that."""
    found = {path.relative_to(folder): path for path in sorted(folder.rglob(FILE_NAME)) if path.is_file()}
    names = {name: safe_name(os.fsencode(name.as_posix())) for name in found}
    return {f"{DECLARATIONS}{below}/{names[name]}": path.read_bytes() for name, path in found.items()}


def left_rows(left: Iterable[SourceFile]) -> list[Row]:
    """What could not be archived."""
    return [
        (shown_name(file.name.decode("utf-8", "surrogateescape")), file.name.hex(), file.problem)
        for file in left
    ]


def twin_rows(pictures: Mapping[str, Kept], twins: Mapping[str, tuple[str, str]]) -> list[Row]:
    """Files with the same bytes as an earlier one: those in the bag, and those left out for it."""
    first: dict[str, str] = {}
    rows = [(path, other, "false", _old_hex(stamp)) for path, (other, stamp) in twins.items()]
    for path, kept in sorted(pictures.items()):
        if path.startswith(f"{PICTURES}/") and kept.size and first.setdefault(kept.sha512, path) != path:
            rows.append((path, first[kept.sha512], "true", _old_hex(kept.stamp)))
    return sorted(rows)


def tables(contents: Mapping[str, Kept], left: Iterable[Row], twins: Iterable[Row]) -> dict[str, bytes]:
    """The tables of files; `contents` is all else that the payload holds."""
    made = {LEFT: _csv(LEFT_COLUMNS, left), TWINS: _csv(TWINS_COLUMNS, twins)}
    sizes = {path: Kept(len(data), "") for path, data in made.items()}
    return {**made, FILES: _csv(FILES_COLUMNS, _files({**contents, **sizes}))}


def rows_of(data: bytes, columns: Sequence[tuple[str, ...]]) -> list[Row]:
    """The rows of such a table; a column that it lacks is empty."""
    read = csv.DictReader(io.StringIO(data.decode("utf-8", "replace"), newline=""))
    of = [(name, restored if kind == TEXT else str) for name, kind, *_ in columns]
    return [tuple(plain(row.get(name) or "") for name, plain in of) for row in read]


def stamps_of(files: bytes) -> dict[str, str]:
    """The stamp of each picture, from files.csv."""
    found = {}
    for path, size, time_ns, old in rows_of(files, FILES_COLUMNS):
        if path.startswith(f"{PICTURES}/"):
            name = path.removeprefix(f"{PICTURES}/").encode("utf-8").hex()
            found[path] = f"{size} {time_ns} {old or name}"
    return found


def _old_hex(stamp: str) -> str:
    return stamp.rpartition(" ")[2]


def _files(contents: Mapping[str, Kept]) -> Iterator[Row]:
    for path, kept in sorted(contents.items()):
        if not path.startswith("data/") or path == FILES:
            continue
        _, time_ns, old = kept.stamp.split(" ") if kept.stamp else ("", "", "")
        same = bytes.fromhex(old).decode("utf-8", "surrogateescape") == path.removeprefix(f"{PICTURES}/")
        yield path, str(kept.size), time_ns, "" if same else old


def _csv(columns: Sequence[tuple[str, ...]], rows: Iterable[Row]) -> bytes:
    written = [disarmed if kind == TEXT else str for _, kind, *_ in columns]
    cells = ([as_cell(one) for as_cell, one in zip(written, row, strict=True)] for row in rows)
    return csv_text([[name for name, *_ in columns], *cells]).encode("utf-8")
