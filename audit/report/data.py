"""The data files beside the report: frames.parquet, frames.csv and findings.json.

Same input and same version give the same bytes: no clock, no order of a set, no library's own notes.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from audit import __version__
from audit.declare.rig import Rig
from audit.finding import Finding
from audit.message.json_text import json_text
from audit.message.spreadsheet import csv_text
from audit.pixels.evidence import FilterShown
from audit.report.counts import declared_counts, file_counts, level_counts
from audit.report.words import without_folders
from audit.result import Result
from audit.table import columns

SCHEMA_VERSION = 1
ROWS_A_PIECE = 5_000
"""Lines of frames.csv that are in memory together."""


def parquet_bytes(frames: pd.DataFrame, *, serials: bool = False) -> bytes:
    """The frame table with unit and meaning in each field's metadata; `serials` adds serial numbers."""
    schema = columns.schema(private=serials).with_metadata({"tool": "cornerstop", "version": __version__})
    arrays = [c.kind.array(frames[c.name]) for c in columns.written(private=serials)]
    file = io.BytesIO()
    pq.write_table(pa.Table.from_arrays(arrays, schema=schema), file, compression="zstd")
    return file.getvalue()


def csv_parts(frames: pd.DataFrame, *, serials: bool = False) -> Iterator[str]:
    """The same table as text, in pieces: lists joined with "; ", formulas disarmed."""
    told = columns.written(private=serials)
    yield csv_text([[c.name for c in told]])
    for start in range(0, len(frames), ROWS_A_PIECE):
        piece = frames.iloc[start : start + ROWS_A_PIECE]
        yield csv_text(zip(*(c.kind.cells(piece[c.name]) for c in told), strict=True))


def findings_text(result: Result) -> str:
    """findings.json, as docs/findings.schema.json describes it."""
    return json_text(findings_record(result))


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
