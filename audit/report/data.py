"""The data files beside the report: frames.parquet, frames.csv and findings.json.

Same input and same version give the same bytes: no clock, no order of a set, no library's own notes.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from functools import cache
from typing import Any

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from audit import __version__
from audit.declare.rig import Rig
from audit.finding import Finding
from audit.message.shown import writable
from audit.message.text import joined, marked, say
from audit.pixels.evidence import FilterShown
from audit.report.counts import declared_counts, file_counts, level_counts
from audit.report.words import without_folders
from audit.result import Result
from audit.table import columns
from audit.table.column import REAL, WHOLE, Column

SOURCES = {
    "scan": marked("as the file has it"),
    "gear": marked("from the kit, else from open data"),
    "join": marked("declared"),
    "measure": marked("reckoned and predicted"),
    "estimate": marked("estimated"),
    "pixels": marked("measured in the pictures"),
    "print": marked("for prints"),
    "sidecar": marked("in a sidecar, by others"),
}
"""Words for the steps that fill the columns."""

LEFT_OUT = frozenset({"frame", "folder", "files", "copies", "notes", "problem", "rig", "corner"})
"""Columns that stand in the frame's own lines, and names that only this program reads."""

NAMES = frozenset(
    (
        "formats",
        "make",
        "model",
        "body_serial",
        "lens",
        "lens_serial",
        "captured_at",
        "exposure_time_ratio",
        "iso_source",
        "body",
        "lens_id",
        "declared_in",
        "filters",
        "ungasketed",
        "scene",
        "bracket",
        "clean_crop",
        "reference_frame",
        "sequence_of",
        "setup",
        "estimated_sets",
        "pair_with",
        "strength_filter",
        "stack",
        "sidecar",
        "sidecar_title",
        "sidecar_rights",
    )
)
"""Columns whose values are the photographer's or the camera's own words, which no language changes."""

UNITS = (marked("stop"), marked("byte"), marked("deg"), marked("fraction"), marked("mired"), marked("um"))
"""Units that are words."""


def everything(row: Mapping[str, Any], *, serials: bool = False) -> tuple[tuple[str, str], ...]:
    """(source, values) of one row; what is not known is left out, serial numbers unless `serials`."""
    found: dict[str, list[str]] = {}
    for column in shown_columns() if row else ():
        value = row[column.name]
        if (column.private and not serials) or _empty(value):
            continue
        found.setdefault(column.step, []).append(_line(column, value))
    return tuple((SOURCES.get(step, step), joined(lines, "; ")) for step, lines in found.items())


def shown_columns() -> Iterator[Column]:
    """The columns that are told here."""
    return (c for c in columns.ALL if c.told and c.name not in LEFT_OUT)


def _empty(value: Any) -> bool:
    """Whether the cell is null; quicker than asking pandas, which tells the rest."""
    kind = type(value)
    if kind is float:
        return bool(value != value)
    if kind in (str, list, tuple):
        return not value
    if kind in (bool, int):
        return False
    return not len(value) if hasattr(value, "__len__") else bool(pd.isna(value))


@cache
def column_words(column: Column) -> str:
    """The column's name as words, without the unit at its end."""
    words = column.name.replace("_", " ")
    return words.removesuffix(f" {column.unit}").removesuffix(" stops") if column.unit else words


def _line(column: Column, value: Any) -> str:
    """What a column is, and its value."""
    what = column_words(column)
    parts = [_without_folders(part) for part in column.kind.words(value)]
    if column.name in NAMES:
        written = ", ".join(part or "\N{EN DASH}" for part in parts)
        return say("{what} {value_written}", what=what, value_written=written)
    shown = joined(parts, ", ")
    if column.unit and column.kind in (REAL, WHOLE):
        return say("{what} {value} {unit}", what=what, value=shown, unit=column.unit)
    return say("{what} {value}", what=what, value=shown)


def _without_folders(part: str) -> str:
    return without_folders(part) if "/" in part or "\\" in part else part


SCHEMA_VERSION = 1


def parquet_bytes(frames: pd.DataFrame, *, serials: bool = False) -> bytes:
    """The frame table with unit and meaning in each field's metadata; `serials` adds serial numbers."""
    schema = columns.schema(private=serials).with_metadata({"tool": "cornerstop", "version": __version__})
    arrays = [c.kind.array(frames[c.name]) for c in columns.written(private=serials)]
    file = io.BytesIO()
    pq.write_table(pa.Table.from_arrays(arrays, schema=schema), file, compression="zstd")
    return file.getvalue()


def csv_text(frames: pd.DataFrame, *, serials: bool = False) -> str:
    """The same table as text: lists joined with "; ", formulas disarmed with an apostrophe."""
    told = columns.written(private=serials)
    file = io.StringIO(newline="")
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(c.name for c in told)
    writer.writerows(zip(*(c.kind.cells(frames[c.name]) for c in told), strict=True))
    return file.getvalue()


def findings_text(result: Result) -> str:
    """findings.json, as docs/findings.schema.json describes it."""
    words = json.dumps(findings_record(result), ensure_ascii=False, indent=1, allow_nan=False)
    return writable(words) + "\n"


def findings_record(result: Result) -> dict[str, Any]:
    """All that was found, as plain records; frame names are those of the table."""
    return {
        "schema_version": SCHEMA_VERSION,
        "tool": {"name": "cornerstop", "version": __version__},
        "title": without_folders(result.title),
        "counts": _counts(result),
        "mistakes": [
            {
                "path": without_folders(m.path),
                "line": m.line,
                "key": m.key,
                "text": m.text,
                "level": m.level,
            }
            for m in result.mistakes
        ],
        "checks": [
            {"id": c.info.id, "title": c.info.title, "outcome": c.outcome, "count": c.count}
            for c in result.checks
        ],
        "rigs": [_rig(name, rig) for name, rig in sorted(result.rigs.items())],
        "findings": [_finding(f) for f in result.findings],
        "pixels": result.pixels,
        "filters": [_filter(f) for f in result.filters],
    }


def _counts(result: Result) -> dict[str, Any]:
    files = file_counts(result)
    return {
        "files_seen": files.seen,
        "files_in_frames": files.in_frames,
        "files_passed_over": files.passed_over,
        "passed_over_by_reason": dict(files.by_reason),
        "frames": len(result.frames),
        "frames_by_declaration": dict(declared_counts(result.frames)),
        "findings_by_level": dict(level_counts(result.findings)),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "check": finding.check,
        "level": finding.level,
        "cause": finding.cause,
        "frames": list(finding.frames),
        "seen": finding.seen,
        "expected": finding.expected,
        "by": finding.by,
        "sure": finding.sure,
        "advice": finding.advice,
        "evidence": [{"frame": name, "light_ev100": _plain(light)} for name, light in finding.evidence],
    }


def _filter(shown: FilterShown) -> dict[str, Any]:
    """NaN becomes null, a pair a list."""
    return {key: _plain(value) for key, value in asdict(shown).items()}


def _plain(value: Any) -> Any:
    if isinstance(value, tuple | list):
        return [_plain(part) for part in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _rig(name: str, rig: Rig) -> dict[str, Any]:
    low, high = rig.even_stops
    return {
        "id": name,
        "state": rig.state,
        "source": rig.source,
        "words": rig.words,
        "filters": list(rig.filters),
        "stops_words": rig.stops_words,
        "even_stops_min": float(low),
        "even_stops_max": float(high),
        "grad_stops": float(rig.grad_stops),
        "openings": [
            {
                "name": o.name,
                "diameter_mm": float(o.diameter_mm),
                "distance_mm": float(o.distance_mm),
                "assumed": list(o.assumed),
            }
            for o in rig.openings
        ],
    }
