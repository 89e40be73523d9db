"""The archive job: every file of a dump copied into a bag, audited there, sealed, and put in place whole."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from audit.archive.knowledge import (
    DECLARATIONS,
    KIT,
    as_archived,
    declarations_below,
    left_rows,
    report_files,
    tables,
    twin_rows,
)
from audit.archive.manifest_text import manifest_text
from audit.archive.names import safe_name, safe_names
from audit.archive.opened import pictures_in
from audit.archive.package import KNOWLEDGE, PICTURES
from audit.archive.pattern import check_pattern, renamed
from audit.archive.sidecars import sidecar_files
from audit.archive.source import SourceFile, files_in
from audit.archive.tags import TAGS, Told, seal_text, size_and_count, tag_files
from audit.declare import find_kit, load
from audit.declare.read import kit_shown
from audit.disk.apart import lies_in
from audit.disk.dumps import Dump, Dumps, title, tops
from audit.disk.interrupt import interrupted
from audit.disk.log_line import add_line
from audit.disk.read_back import how_checked
from audit.disk.together import Together
from audit.disk.workplace import Kept, Workplace
from audit.errors import AuditError
from audit.jobs.archive_copy import How, Progress, copy, planned_below, refuse_full
from audit.jobs.audit import audit
from audit.message.shown import shown_name
from audit.pixels.sources import Mode
from audit.result import Result


@dataclass(frozen=True)
class Archived:
    """The bags that were made, what each holds, and what could not be done.

    `copied` are files of this run, `twins` those with the bytes of another, `gone` files of an earlier run
    that the dump no longer has; `lost` says of each destination that failed why; `unlogged` are bags whose
    log could not be written; `unmerged` are sidecars of the card that could not be merged, with the reason.
    """

    bags: tuple[Path, ...]
    files: int
    bytes: int
    copied: int
    left: tuple[SourceFile, ...]
    twins: int
    gone: int
    checked: str
    lost: tuple[tuple[Path, AuditError], ...] = ()
    unlogged: tuple[Path, ...] = ()
    unmerged: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class _Job:
    """What is archived, and how."""

    dump: Dump
    kit: Path | None
    declarations: Path | None
    pixels: Mode
    how: How
    rename: str = ""
    xmp: bool = False

    @property
    def dumps(self) -> list[str]:
        """Folders of data/pictures that are a dump each, where there are several."""
        return [] if isinstance(self.dump, Path) else [safe_name(os.fsencode(n)) for n in self.dump.named]


def archive(
    dump: Dump,
    *targets: Path,
    kit_path: Path | None = None,
    declarations: Path | None = None,
    pixels: Mode = "preview",
    readback: bool = True,
    sha256: bool = False,
    once: bool = False,
    xmp: bool = False,
    rename: str = "",
    progress: Progress | None = None,
) -> Archived | None:
    """Makes the bag of a dump, at one place or at several at once.

    None where an earlier run had made it, and was stopped right after. `sha256` writes manifests of that
    kind too; `once` keeps files of the same bytes once; `rename` is a pattern for the names of pictures;
    `xmp` adds sidecars to what is known.

    A destination that fails is told, and the others are completed; AuditError is raised where the last one
    refuses or the dump goes away. What is copied stays under a hidden name, and the same call goes on there.
    """
    _refuse(dump, targets)
    kit = kit_path or find_kit(dump)
    load(dump, kit, declarations, strict=False)  # a kit with mistakes is told before hours of copying
    if rename:
        check_pattern(rename)
        dump = Dumps({title(dump): dump}) if isinstance(dump, Path) else dump  # keeps the old names
    how = How(readback, ("sha256",) if sha256 else (), once)
    job = _Job(dump, kit, declarations, pixels, how, rename, xmp)
    places = [Workplace(target) for target in targets]
    try:
        open_, done = _opened(places)
        made = _made(job, open_, progress) if open_ else None
        for place in done:
            place.tidy()
        return made
    finally:
        for place in places:
            place.close()


def _made(job: _Job, places: Sequence[Workplace], progress: Progress | None) -> Archived:
    files = files_in(job.dump)
    together = Together(places)
    try:
        for place in places:
            _begin(place, job)
        names = safe_names(file.name for file in files)
        names = renamed(files, names, job.rename) if job.rename else names
        planned = planned_below(names, files)
        refuse_full(places, planned, job.how)
        copied, left = copy(together, job.dump, planned, job.how, progress)
        unmerged = _know(together, job)
        together.each(lambda place: _seal(place, job, left))
    finally:
        together.shut()
    for place in together.alive:
        place.tidy()
    return replace(_told(together, job, files, copied, left), unmerged=unmerged)


def _told(
    together: Together, job: _Job, files: Sequence[SourceFile], copied: int, left: list[SourceFile]
) -> Archived:
    place = together.alive[0]
    size, count = size_and_count(_payload(place))
    checked = how_checked(back=job.how.back)
    line = f"archived {count} files, {size} bytes; {len(left)} not archived; {checked}"
    bags = tuple(one.target for one in together.alive)
    pictures = sum(path.startswith(f"{PICTURES}/") for path in place.kept) + len(place.twins)
    return Archived(
        bags,
        count,
        size,
        copied,
        tuple(left),
        len(twin_rows(place.kept, place.twins)),
        pictures + len(left) - len(files),
        checked,
        tuple((one.target, error) for one, error in together.lost.items()),
        tuple(bag for bag in bags if not add_line(bag.with_name(f"{bag.name}.log"), line)),
    )


def _refuse(dump: Dump, targets: Sequence[Path]) -> None:
    for number, target in enumerate(targets):
        if not target.name or target.name in (".", ".."):
            raise AuditError(f"{target}: name the folder that the archive shall become")
        if not target.parent.is_dir():
            raise AuditError(
                f"{shown_name(str(target.parent))}: no such folder; make it, or name another place"
            )
        if any(lies_in(target.parent, top) or lies_in(top, target) for top in tops(dump)):
            raise AuditError(
                f"{shown_name(str(target))}: dump and archive lie in each other; name another place"
            )
        for other in targets[:number]:
            if lies_in(target, other.parent / other.name) or target.absolute() == other.absolute():
                raise AuditError(f"{shown_name(str(target))}: is named twice; name two places")


def _opened(places: Sequence[Workplace]) -> tuple[list[Workplace], list[Workplace]]:
    """The places to work at, and those where an earlier run was stopped when all but tidying up was done."""
    begun = [place for place in places if place.folder.is_dir()]
    for place in begun:
        place.open()
    done = [place for place in begun if place.placed]
    for place in places:
        if place in begun or (done and place.target.is_dir()):
            continue  # of two, the other may have been tidied up already
        _refuse_taken(place.target)
        place.open()
        begun.append(place)
    work = [place for place in begun if place not in done]
    for place in work:
        _refuse_taken(place.target)
    return work, done


def _refuse_taken(target: Path) -> None:
    if os.path.lexists(target):
        raise AuditError(f"{shown_name(str(target))}: exists already; name a new place for the bag")


def _begin(place: Workplace, job: _Job) -> None:
    where = ",".join(os.fsencode(top.resolve()).hex() for top in tops(job.dump))
    if place.facts.setdefault("dump", where) != where:
        raise AuditError(
            f"{shown_name(str(place.folder))}: holds the beginnings of an archive of another dump; "
            "go on with that one, or name another place"
        )
    if "date" not in place.facts:
        place.fact(dump=where, date=datetime.now(UTC).strftime("%Y-%m-%d"))


def _know(together: Together, job: _Job) -> tuple[tuple[str, str], ...]:
    """Fills data/knowledge anew: kit and declarations, then what the audit of the copies makes of them.

    Gives the sidecars that could not be merged.
    """

    def put(place: Workplace, files: dict[str, bytes]) -> None:
        for name, data in files.items():
            place.write(name, data, also=job.how.also)

    together.each(lambda place: place.drop_all(KNOWLEDGE))
    first = together.alive[0]
    pictures = first.bag / PICTURES
    for folder in (pictures, *(pictures / name for name in job.dumps)):
        folder.mkdir(parents=True, exist_ok=True)
    words = _declared(job, pictures)
    words |= {KIT: job.kit.read_bytes()} if job.kit is not None else {}
    together.each(lambda place: put(place, words))
    first = together.alive[0]
    shown, result = _audited(first, job)
    made, left = report_files(result), tuple[tuple[str, str], ...]()
    if job.xmp:
        merged, left = sidecar_files(result, shown, first.bag)
        made |= merged
    together.each(lambda place: put(place, made))
    return left


def _declared(job: _Job, pictures: Path) -> dict[str, bytes]:
    """The declarations that count: those of the dump, and over them those of the tree that mirrors it."""
    own = declarations_below(pictures)
    below = f"/{job.dumps[0]}" if len(job.dumps) == 1 else ""
    return own | (declarations_below(job.declarations, below) if job.declarations is not None else {})


def _audited(place: Workplace, job: _Job) -> tuple[Dump, Result]:
    bag, mirror = place.bag, place.bag / DECLARATIONS
    stamps = {path: kept.stamp for path, kept in place.kept.items() if path.startswith(f"{PICTURES}/")}
    pictures = pictures_in(bag, job.dumps, stamps)
    result = audit(
        pictures,
        kit_path=job.kit,
        declarations=mirror if mirror.is_dir() else None,
        pixels=job.pixels,
    )
    return pictures, as_archived(result, title(job.dump), kit_shown(job.kit, pictures))


def _payload(place: Workplace) -> dict[str, Kept]:
    return {path: kept for path, kept in place.kept.items() if path.startswith("data/")}


def _seal(place: Workplace, job: _Job, left: Sequence[SourceFile]) -> None:
    """Writes the tables of files and the tag files, and puts the bag in place."""
    made = tables(_payload(place), left_rows(left), twin_rows(place.kept, place.twins))
    for name, data in made.items():
        place.write(name, data, also=job.how.also)
    told = Told(
        shown_name(title(job.dump)),
        place.facts["date"],
        len(left),
        job.dumps,
        algorithms=("sha512", *job.how.also),
    )
    tags = tag_files(_payload(place), told)
    digests = {name: place.write(name, data).sha512 for name, data in tags.items()}
    sealed = place.write(TAGS, manifest_text(digests))
    place.sync(back=job.how.back)
    interrupted()
    place.finish(seal_text(place.target.name, sealed.sha512))
