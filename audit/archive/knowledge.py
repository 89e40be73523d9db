"""What is known of the pictures, put into the bag: the audit of their copies, tables of files, toml files."""

from __future__ import annotations

import csv
import io
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from audit import report
from audit.archive.package import FILES, FILES_COLUMNS, KNOWLEDGE, LEFT, LEFT_COLUMNS
from audit.archive.source import SourceFile
from audit.disk.marker import OUTPUT_MARKER
from audit.disk.workplace import Workplace
from audit.message.shown import shown_name
from audit.result import Result

PICTURES = "data/pictures"


def add_knowledge(
    place: Workplace,
    run: Callable[[Path], Result],
    title: str,
    toml_files: Iterable[tuple[str, Path]],
    left: Sequence[SourceFile],
    *,
    back: bool,
) -> Result:
    """Fills data/knowledge anew; `run` audits the folder of the copied pictures."""
    for name in place.begun_below(KNOWLEDGE):
        place.drop(name)
    result = replace(run(place.bag / PICTURES), title=title)
    with tempfile.TemporaryDirectory(prefix="cornerstop-") as folder:
        made = report.write(result, Path(folder) / "report").run
        for path in sorted(made.rglob("*")):
            if path.is_file() and path.name != OUTPUT_MARKER:
                _put(place, path.relative_to(made).as_posix(), path.read_bytes(), back)
    for name, path in toml_files:
        _put(place, name, path.read_bytes(), back)
    lines = (
        (shown_name(file.name.decode("utf-8", "surrogateescape")), file.name.hex(), file.problem)
        for file in left
    )
    _put(place, LEFT.removeprefix(f"{KNOWLEDGE}/"), _csv(LEFT_COLUMNS, lines), back)
    _put(place, FILES.removeprefix(f"{KNOWLEDGE}/"), _csv(FILES_COLUMNS, _files(place)), back)
    return result


def _put(place: Workplace, name: str, data: bytes, back: bool) -> None:
    place.write(f"{KNOWLEDGE}/{name}", [data], back=back)


def _files(place: Workplace) -> Iterator[tuple[str, str, str, str]]:
    for path, kept in sorted(place.kept.items()):
        if not path.startswith("data/") or path == FILES:
            continue
        _, time_ns, old = kept.stamp.split(" ") if kept.stamp else ("", "", "")
        same = bytes.fromhex(old).decode("utf-8", "surrogateescape") == path.removeprefix(f"{PICTURES}/")
        yield path, str(kept.size), time_ns, "" if same else old


def _csv(columns: Iterable[tuple[str, ...]], rows: Iterable[tuple[str, ...]]) -> bytes:
    file = io.StringIO(newline="")
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(column[0] for column in columns)
    writer.writerows(rows)
    return file.getvalue().encode("utf-8")
