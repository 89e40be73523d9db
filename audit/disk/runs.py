"""A folder of reports: a new folder inside it for each run, and one link that leads to the newest.

    out/report.html      leads to newest/open.html; the same bytes whatever the run
    out/newest           link to run-0003, replaced in one step: before it all is old, after it all is new
    out/run-0003/        pages, data files, and their manifest

Where there are no links, report.html leads to the run itself and is what is replaced in one step. What is to
be moved there lies in the run as `.newest` and `.report.html`: a run that still holds them was stopped in
between, and the next one finishes it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from audit.disk.building import Building, sync_one
from audit.disk.interrupt import interrupted
from audit.disk.manifest import DEMO_MARKER, files_in, left_in, read_manifest, remove_listed, strangers
from audit.disk.marker import OUTPUT_MARKER
from audit.disk.process import TEMPORARY, left_behind, temporary_name
from audit.disk.report_folder import is_report_folder, real, refuse_foreign, refused, turn
from audit.disk.signed import is_ours, signed

KEPT_RUNS = 3
"""Newest runs that stay; what the folder held before is never more than a few trips' worth of pages."""
NEWEST, TOP_PAGE, ENTRANCE = "newest", "report.html", "open.html"
_NEWEST_NEXT, _TOP_NEXT = f".{NEWEST}", f".{TOP_PAGE}"
_RUN = re.compile(r"run-(\d{4,})")


@dataclass(frozen=True)
class Left:
    """Files in a folder of ours that are not as this program wrote them, which therefore stay."""

    folder: Path
    names: tuple[str, ...]


@dataclass(frozen=True)
class Doors:
    """The small pages that lead on: `entrance` of a run by its name, `top` to an address below the folder."""

    entrance: Callable[[str], str]
    top: Callable[[str], str]


@dataclass(frozen=True)
class PlacedRun:
    """A run that was put in place, the page that leads to it, and what of the folder was left as it lies."""

    run: Path
    page: Path
    left: tuple[Left, ...] = ()

    @property
    def out(self) -> Path:
        """The folder of reports."""
        return self.run.parent


def add_run(out: Path, fill: Callable[[Building], None], doors: Doors) -> PlacedRun:
    """Has `fill` write a run in a hidden folder, then puts it in place and leads to it in one step.

    Raises AuditError where `out` is not ours or the disk refuses. Whatever stops it, a power cut too, leaves
    the old run led to, or the new one; the next call tidies up what was left.
    """
    out = real(out)
    refuse_foreign(out)
    try:
        return _added(out, fill, doors) if out.exists() else _first(out, fill, doors)
    except OSError as error:
        raise refused(out, error) from error


def _first(out: Path, fill: Callable[[Building], None], doors: Doors) -> PlacedRun:
    """The whole folder made beside its place, so that it too appears in one step."""
    out.parent.mkdir(parents=True, exist_ok=True)
    tidy(out.parent)
    fresh = out.parent / temporary_name()
    try:
        fresh.mkdir()
        placed = _added(fresh, fill, doors)
        try:
            fresh.rename(out)  # deletes: at most an empty folder; onto any other it fails
        except OSError:  # somebody else was first
            refuse_foreign(out)
            return _place(Building.reopened(placed.run), out, doors)
        sync_one(out.parent)
        return PlacedRun(out / placed.run.name, out / placed.page.name, placed.left)
    finally:
        if fresh.exists():
            remove_report(fresh)


def _added(out: Path, fill: Callable[[Building], None], doors: Doors) -> PlacedRun:
    with turn(out):
        tidy(out)
        _finish(out)
    building = Building(out)
    try:
        fill(building)
        return _place(building, out, doors)
    finally:
        building.drop()


def _place(building: Building, out: Path, doors: Doors) -> PlacedRun:
    with turn(out):
        interrupted()
        while True:
            run = out / f"run-{_highest(out) + 1:04d}"
            _seal(building, run.name, doors)
            try:
                building.move(run)
                break
            except OSError:
                if not run.exists():
                    raise
        sync_one(out)
        left = _lead_to(out, run)
        page = run / ENTRANCE if left else out / TOP_PAGE
        return PlacedRun(run, page, (*left, *_prune(out)))


def _seal(building: Building, run: str, doors: Doors) -> None:
    building.write(ENTRANCE, doors.entrance(run))
    try:
        building.link(_NEWEST_NEXT, run)
        way = NEWEST
    except (OSError, NotImplementedError):  # a file system, or a user, without links
        way = run
    building.write(_TOP_NEXT, signed(doors.top(f"{way}/{ENTRANCE}")))
    building.finish()


def _lead_to(out: Path, run: Path) -> tuple[Left, ...]:
    """Moves into place what leads to a run, unless a newer one is there; what is not ours is left."""
    if _highest(out) != _number(run.name):
        return ()
    kept = []
    newest, top = out / NEWEST, out / TOP_PAGE
    if (run / _NEWEST_NEXT).is_symlink():
        if _absent(newest) or _our_link(newest):
            (run / _NEWEST_NEXT).replace(newest)  # deletes: our own link to the run before
        else:
            kept.append(NEWEST)
    if (run / _TOP_NEXT).exists():
        if _absent(top) or is_ours(top):
            (run / _TOP_NEXT).replace(top)  # deletes: our own page, which carries its digest
        else:
            kept.append(TOP_PAGE)
    sync_one(out)
    return (Left(out, tuple(kept)),) if kept else ()


def _finish(out: Path) -> None:
    """Leads to the newest run where its own process was stopped before it could."""
    found = runs(out)
    if found:
        _lead_to(out, found[-1])


def _prune(out: Path) -> tuple[Left, ...]:
    """Removes all but the newest runs, as far as they are as they were written."""
    left = []
    for run in runs(out)[:-KEPT_RUNS]:
        try:
            names = _removed(run)
        except OSError:  # what the disk does not let go stays; the new run is in place all the same
            names = left_in(run)
        if names:
            left.append(Left(run, tuple(names)))
    return tuple(left)


def _removed(run: Path) -> list[str]:
    """Removes one run; names of what stays. Where nothing will, it goes in one step."""
    listed = read_manifest(run / OUTPUT_MARKER)
    if listed is None or strangers(run, listed):
        return remove_listed(run)
    aside = run.with_name(temporary_name())
    try:
        run.rename(aside)  # deletes: nothing: the new name is made up for this
        left = remove_listed(aside)
    except KeyboardInterrupt:
        remove_listed(aside)  # it is out of sight already: better ended than left
        raise
    if left:
        aside.rename(run)  # deletes: nothing: back to the name it had
    return left


def tidy(folder: Path) -> None:
    """Removes what processes that are gone left half made in a folder: exactly what their lists name."""
    for path in sorted(folder.iterdir()):
        if left_behind(path.name) and path.is_dir() and not path.is_symlink():
            tidy(path)
            if (path / DEMO_MARKER).is_file():
                remove_report(path / "report")
                remove_listed(path, DEMO_MARKER)
            elif is_report_folder(path):
                remove_report(path)
            else:
                remove_listed(path)


def remove_report(folder: Path) -> list[str]:
    """Removes a folder of reports: its runs, what leads to them, its marker. Names of what stays."""
    if folder.is_symlink() or not is_report_folder(folder):
        return remove_listed(folder)
    tidy(folder)
    for run in runs(folder):
        remove_listed(run)
    if _our_link(folder / NEWEST):
        (folder / NEWEST).unlink()  # deletes: our own link
    if is_ours(folder / TOP_PAGE):
        (folder / TOP_PAGE).unlink()  # deletes: our own page, which carries its digest
    rest = [name for name in left_in(folder) if name != OUTPUT_MARKER]
    if not rest:
        (folder / OUTPUT_MARKER).unlink()  # deletes: our own marker, in a folder that holds nothing else
        with suppress(OSError):
            folder.rmdir()  # deletes: an empty folder that we made
    return rest


def runs(out: Path) -> list[Path]:
    """Folders of whole runs in a folder of reports, oldest first."""
    found = []
    for path in out.iterdir():
        if _RUN.fullmatch(path.name) and path.is_dir() and not path.is_symlink():
            listed = read_manifest(path / OUTPUT_MARKER)
            if listed is not None and listed.whole:
                found.append(path)
    return sorted(found, key=lambda run: _number(run.name))


def not_ours(out: Path) -> list[str]:
    """Names of files in a folder of reports, or in a run, that are in no list of ours."""
    ours = {OUTPUT_MARKER, NEWEST, TOP_PAGE}
    for folder in (out, *(path for path in out.iterdir() if _RUN.fullmatch(path.name))):
        listed = read_manifest(folder / OUTPUT_MARKER)
        if listed is not None:
            names = (*listed.files, *listed.links, OUTPUT_MARKER)
            ours |= {(folder / name).relative_to(out).as_posix() for name in names}
    return [n for n in files_in(out) if n not in ours and not TEMPORARY.fullmatch(n.partition("/")[0])]


def _highest(out: Path) -> int:
    """The highest number that any name in the folder has, ours or not."""
    return max((_number(path.name) for path in out.iterdir() if _RUN.fullmatch(path.name)), default=0)


def _number(name: str) -> int:
    return int(name.partition("-")[2])


def _absent(path: Path) -> bool:
    return not path.exists() and not path.is_symlink()


def _our_link(path: Path) -> bool:
    return path.is_symlink() and _RUN.fullmatch(str(path.readlink())) is not None
