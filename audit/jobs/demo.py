"""The demo: an invented trip with planted mistakes is written, audited and held against its truth."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from audit import report
from audit.demo import trip_files
from audit.demo.score import Score, score
from audit.disk.building import Building, sync_one
from audit.disk.interrupt import interrupted
from audit.disk.manifest import DEMO_MARKER, read_manifest, strangers
from audit.disk.report_folder import real
from audit.disk.runs import Left, remove_report, tidy
from audit.errors import AuditError
from audit.jobs.audit import audit
from audit.result import Result

REPORT, TRIP = "report", "trip"
Progress = Callable[[int, int], None]
Files = Iterable[tuple[str, bytes]]


@dataclass(frozen=True)
class Demo:
    """The trip's audit, the report of it, what was found of what is planted, and what was left as it lies."""

    result: Result
    page: Path
    scored: Score
    left: tuple[Left, ...]


def demonstrate(out: Path, *, small: bool = False, progress: Progress | None = None) -> Demo:
    """Writes trip, truth and report into `out`, which appears whole; an earlier demo is audited once more.

    Nothing in an earlier demo is written anew: what its owner changed or added stays. Raises AuditError where
    `out` holds anything else, or the trip of another version or size. `small`: as `trip_files` has it.
    """
    out = real(out)
    files = trip_files(small=small, progress=progress)
    try:
        if out.exists() and (not out.is_dir() or any(out.iterdir())):
            return _again(out, files)
        return _new(out, files)
    except OSError as error:
        why = error.strerror or error
        raise AuditError(
            f"{out}: the demo cannot be written: {why}; free space or name another folder"
        ) from error


def _new(out: Path, files: Files) -> Demo:
    out.parent.mkdir(parents=True, exist_ok=True)
    tidy(out.parent)
    building = Building(out.parent, DEMO_MARKER)
    try:
        data = b""
        for name, data in files:
            building.write(name, data)
        building.finish()
        demo = _audited(building.path, truth=data)
        interrupted()
        building.move(out)
        sync_one(out.parent)
    finally:
        if not building.placed:
            remove_report(building.path / REPORT)
        building.drop()
    return replace(demo, page=out / REPORT / demo.page.name)


def _again(out: Path, files: Files) -> Demo:
    listed = read_manifest(out / DEMO_MARKER) if out.is_dir() else None
    if listed is None or not listed.whole:
        raise AuditError(f"{out}: holds files that are not an earlier demo's; name another folder with --out")
    made: dict[str, tuple[int, str] | None] = {}
    data = b""
    for name, data in files:
        made[name] = len(data), hashlib.sha256(data).hexdigest()
    if made != listed.files:
        raise AuditError(
            f"{out}: holds the demo of another version or picture size; name another folder with --out"
        )
    names = [n for n in strangers(out, listed, DEMO_MARKER) if not n.startswith(f"{REPORT}/")]
    demo = _audited(out, truth=data)
    return replace(demo, left=(Left(out, tuple(names)), *demo.left)) if names else demo


def _audited(out: Path, *, truth: bytes) -> Demo:
    result = audit(out / TRIP)
    scored = score(json.loads(truth), [(f.check, f.level, f.frames) for f in result.findings])
    placed = report.write(result, out / REPORT)
    return Demo(result, placed.page, scored, placed.left)
