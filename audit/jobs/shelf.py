"""The audit of a shelf: which folders are one trip, and each trip audited by itself."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Sequence
from contextlib import closing
from functools import partial
from pathlib import Path

from audit.archive.names import safe_names
from audit.crew.crew import crew_at_work
from audit.disk.report_folder import refuse_foreign, turn
from audit.disk.runs import runs
from audit.errors import NOTHING, OUR_FAULT, SOMETHING, AuditError
from audit.message.text import marked
from audit.scale import trip
from audit.scale.audits import Audited, Audits
from audit.scale.shelf import Shelf, shelf_of
from audit.scale.store import fetched, is_address
from audit.scale.stretches import Stretch, stretches, together
from audit.scan import scan

LEADS_OUT = marked("not fetched: its name leads out of its folder")
TRIPS = "trips"
"""Folder of the reports of all trips, in that of the shelf's own page."""
Progress = Callable[[int, int], None]


def audit_shelf(
    root: str,
    out: Path,
    *,
    depth: int = 1,
    cache: Path | None = None,
    options: Sequence[str] = (),
    read: Progress | None = None,
    done: Progress | None = None,
) -> Audits:
    """Audits each trip of a shelf into a folder of reports below `out`/trips; nothing goes into the shelf.

    `root` is a folder, or an address (s3://...) whose folders are fetched one by one. A trip is the smallest
    set of the folders that lie `depth` deep in the shelf between which no camera went on taking pictures. At
    no time more than one folder's headers are in memory here; each trip is audited by a process of its own,
    as many at once as the crew at work has workers. `options` are words of `cornerstop audit` for all of
    them. `read` is called with folders read and folders in all, `done` with trips.
    Raises AuditError where the shelf cannot be listed, or `out` is not ours.
    """
    refuse_foreign(out)
    shelf = shelf_of(root, depth, (out,))
    if not shelf.folders:
        raise AuditError(f"{root}: no folder lies so deep in it; name the folder that holds the trips")
    found, empty = _stretches(shelf, out, cache, read)
    plan = _named(together(found))
    out.mkdir(parents=True, exist_ok=True)
    with turn(out):
        (out / TRIPS).mkdir(exist_ok=True)
    ended = _audited(shelf, out, plan, options, done)
    told = [
        _told(out, name, some, found, *end) for (name, some), end in zip(plan.items(), ended, strict=True)
    ]
    return Audits(_title(root), tuple(told), tuple(empty), tuple(shelf.left))


def _named(trips: Sequence[list[str]]) -> dict[str, list[str]]:
    """The folders of each trip by the name of its reports, which is that of the first."""
    first = [some[0].replace("/", "_").encode() for some in trips]
    names = safe_names(first)
    return {names[one]: some for one, some in zip(first, trips, strict=True)}


def _audited(
    shelf: Shelf, out: Path, plan: dict[str, list[str]], options: Sequence[str], done: Progress | None
) -> list[tuple[int, str]]:
    """How the audit of each trip ended; where this is stopped, so are they."""
    crew, ended = crew_at_work(), []
    workers = 1 if crew.far else crew.workers and max(1, crew.workers // max(1, len(plan)))
    words = [*options, "--workers", str(workers)]
    tasks = [
        ([_whole(shelf.folders[one]) for one in some], os.fspath(_place(out, name)), words)
        for name, some in plan.items()
    ]
    with trip.stopped_in_the_end(), closing(crew.spread(trip.audited, tasks)) as answers:
        for number, answer in enumerate(answers, start=1):
            ended.append(answer)
            if done is not None:
                done(number, len(tasks))
    return ended


def _title(root: str) -> str:
    return root.rstrip("/").rpartition("/")[2] if is_address(root) else Path(root).resolve().name


def _whole(folder: str) -> str:
    """The folder for a process that may have begun elsewhere."""
    return folder if is_address(folder) else os.path.abspath(folder)  # noqa: PTH100 (no link is followed)


def _place(out: Path, name: str) -> Path:
    return out.absolute() / TRIPS / name


def _stretches(
    shelf: Shelf, out: Path, cache: Path | None, progress: Progress | None
) -> tuple[dict[str, list[Stretch]], list[str]]:
    """When pictures were taken, by folder; and the folders in which there is no file at all."""
    found: dict[str, list[Stretch]] = {}
    empty = []
    for number, (shown, folder) in enumerate(shelf.folders.items(), start=1):
        try:
            with fetched([folder]) as ([place], leading_out):
                scanned = scan(Path(place), skip=(out,), cache=None if is_address(folder) else cache)
        except AuditError:  # its own audit will say the same
            found[shown] = []
        else:
            shelf.left += [(f"{shown}/{name}", LEADS_OUT) for name in leading_out]
            if scanned.files_seen:
                found[shown] = stretches(scanned.frames)
            else:
                empty.append(shown)
        if progress is not None:
            progress(number, len(shelf.folders))
    return found, empty


def _told(
    out: Path, name: str, folders: list[str], found: dict[str, list[Stretch]], code: int, said: str
) -> Audited:
    """A trip with what its report says of it."""
    times = [stretch for folder in folders for stretch in found[folder] if stretch.clock == "local"]
    begins = min((stretch.begins for stretch in times), default=None)
    ends = max((stretch.ends for stretch in times), default=None)
    one = partial(Audited, name, tuple(folders), begins, ends, code, said)
    try:
        run = runs(_place(out, name))[-1] if code in (NOTHING, SOMETHING, OUR_FAULT) else None
        if run is None:
            return one()
        told = json.loads((run / "findings.json").read_text(encoding="utf-8"))
    except (OSError, ValueError, IndexError):  # a fault of ours before there was a report
        return one()
    return one(
        f"{TRIPS}/{name}/{run.name}",
        told["title"],
        told["counts"],
        len(told["mistakes"]),
    )
