"""The archive job: every file of a dump copied into a bag, audited there, sealed, and put in place whole."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from audit import __version__
from audit.archive.bag_info import BAGIT, FORM, OURS, bag_info_text
from audit.archive.knowledge import PICTURES, add_knowledge
from audit.archive.manifest_text import manifest_text
from audit.archive.names import safe_names
from audit.archive.package import KNOWLEDGE, README, package_text
from audit.archive.source import SourceError, SourceFile, chunks_of, files_of
from audit.declare import find_kit, load
from audit.disk.apart import lies_in
from audit.disk.interrupt import interrupted
from audit.disk.log_line import add_line
from audit.disk.read_back import CAN_DROP
from audit.disk.workplace import Workplace
from audit.errors import AuditError
from audit.jobs.audit import audit
from audit.message.shown import shown_name
from audit.pixels.sources import Mode

TRIES, PAUSE_S = 3, 0.2
ROOM_BYTES = 64_000_000
"""Kept free for what is known of the pictures: a report of some thousand frames takes less."""
TAGS = "tagmanifest-sha512.txt"
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Archived:
    """The bag, how many files it holds and copied in this run, and those that could not be archived."""

    bag: Path
    files: int
    bytes: int
    copied: int
    left: tuple[SourceFile, ...]
    gone: int
    checked: str
    logged: bool


def archive(
    dump: Path,
    target: Path,
    *,
    kit_path: Path | None = None,
    declarations: Path | None = None,
    pixels: Mode = "preview",
    readback: bool = True,
    progress: Progress | None = None,
) -> Archived | None:
    """Makes the bag `target` of a dump; None where an earlier run had made it, and was stopped right after.

    Raises AuditError where the destination refuses or the dump goes away: what is copied stays under a hidden
    name, and the same call goes on from there.
    """
    _refuse(dump, target)
    kit = kit_path or find_kit(dump)
    load(dump, kit, declarations, strict=False)  # a kit with mistakes is told before hours of copying
    files = files_of(dump)
    place = Workplace(target)
    if not place.folder.is_dir():
        _refuse_taken(target)
    try:
        place.open()
        if place.placed:
            place.tidy()
            return None
        _refuse_taken(target)
        _begin(place, dump)
        names = safe_names(file.name for file in files)
        _refuse_full(place, files, names)
        copied, left = _copy(place, dump, files, names, readback, progress)
        inside = _kit_in_bag(place, dump, kit)
        add_knowledge(
            place,
            lambda folder: audit(folder, kit_path=inside, declarations=declarations, pixels=pixels),
            dump.resolve().name,
            list(_toml_files(kit, declarations or dump)),
            left,
            back=readback,
        )
        size, count = _seal(place, dump, len(left), readback)
        gone = sum(k.startswith(PICTURES) for k in place.kept) + len(left) - len(files)
    finally:
        place.close()
    checked = _checked(readback)
    line = f"{_now()} archived {count} files, {size} bytes; {len(left)} not archived; {checked}"
    logged = add_line(target.with_name(f"{target.name}.log"), line)
    return Archived(target, count, size, copied, tuple(left), gone, checked, logged)


def _refuse(dump: Path, target: Path) -> None:
    if not target.name or target.name in (".", ".."):
        raise AuditError(f"{target}: name the folder that the archive shall become")
    if not target.parent.is_dir():
        raise AuditError(f"{shown_name(str(target.parent))}: no such folder; make it, or name another place")
    if lies_in(target.parent, dump) or lies_in(dump, target):
        raise AuditError(f"{shown_name(str(target))}: dump and archive lie in each other; name another place")


def _kit_in_bag(place: Workplace, dump: Path, kit: Path | None) -> Path | None:
    """The kit's copy, where it lies in the dump; the folder of the pictures is made, were there none."""
    pictures = place.bag / PICTURES
    pictures.mkdir(parents=True, exist_ok=True)
    return pictures / kit.relative_to(dump) if kit and kit.is_relative_to(dump) else kit


def _refuse_taken(target: Path) -> None:
    if os.path.lexists(target):
        raise AuditError(f"{shown_name(str(target))}: exists already; name a new place for the bag")


def _begin(place: Workplace, dump: Path) -> None:
    where = os.fsencode(dump.resolve()).hex()
    if place.facts.setdefault("dump", where) != where:
        raise AuditError(
            f"{shown_name(str(place.folder))}: holds the beginnings of an archive of another dump; "
            "go on with that one, or name another place"
        )
    if "date" not in place.facts:
        place.fact(dump=where, date=datetime.now(UTC).strftime("%Y-%m-%d"))


def _refuse_full(place: Workplace, files: list[SourceFile], names: dict[bytes, str]) -> None:
    if not hasattr(os, "statvfs"):
        return
    needed = ROOM_BYTES + sum(f.size for f in files if not _whole(place, f, _path(f, names)))
    found = os.statvfs(place.folder)
    free = found.f_bavail * found.f_frsize
    if needed > free:
        raise AuditError(
            f"{shown_name(str(place.target.parent))}: {needed / 1e9:.2f} GB are needed, {free / 1e9:.2f} GB "
            "are free; make room, or name another disk"
        )


def _path(file: SourceFile, names: dict[bytes, str]) -> str:
    return f"{PICTURES}/{names[file.name]}"


def _stamp(file: SourceFile) -> str:
    return f"{file.stamp} {file.name.hex()}"


def _whole(place: Workplace, file: SourceFile, path: str) -> bool:
    return place.still_there(path) and place.kept[path].stamp == _stamp(file)


def _copy(
    place: Workplace,
    dump: Path,
    files: list[SourceFile],
    names: dict[bytes, str],
    back: bool,
    progress: Progress | None,
) -> tuple[int, list[SourceFile]]:
    """How many files were copied, and those that cannot be."""
    copied, left, same = 0, [], dump.stat()
    for number, file in enumerate(files, 1):
        interrupted()
        path = _path(file, names)
        if file.problem:
            left.append(file)
        elif not _whole(place, file, path):
            problem = _copied(place, file, path, back)
            if problem:
                _refuse_gone(dump, same)
                left.append(replace(file, problem=problem))
            copied += not problem
        if progress is not None:
            progress(number, len(files))
    return copied, left


def _copied(place: Workplace, file: SourceFile, path: str, back: bool) -> str:
    """Copies one file; why it could not be, or nothing."""
    kept = place.kept.get(path)
    if kept is not None and kept.stamp.rpartition(" ")[2] != file.name.hex():
        raise AuditError(f"{shown_name(path)}: is taken by another file of an earlier run; name a new place")
    problem = ""
    for attempt in range(TRIES):
        time.sleep(PAUSE_S if attempt else 0)
        try:
            place.write(path, chunks_of(file), stamp=_stamp(file), time_ns=file.time_ns, back=back)
            return ""
        except SourceError as error:
            problem = str(error)
    place.drop(path)
    return problem


def _refuse_gone(dump: Path, same: os.stat_result) -> None:
    try:
        there = os.path.samestat(dump.stat(), same) and any(dump.iterdir())
    except OSError:
        there = False
    if not there:
        raise AuditError(
            f"{shown_name(str(dump))}: the dump went away; what is copied stays under a hidden name: bring "
            "it back, and run the same command again to go on"
        )


def _toml_files(kit: Path | None, declarations: Path) -> Iterator[tuple[str, Path]]:
    if kit is not None:
        yield "kit.toml", kit
    for path in sorted(declarations.rglob("filters.toml")):
        if path.is_file():
            yield f"declarations/{path.relative_to(declarations).as_posix()}", path


def _seal(place: Workplace, dump: Path, left: int, back: bool) -> tuple[int, int]:
    """Writes the tag files and puts the bag in place; bytes and files of the payload."""
    payload = {path: kept for path, kept in place.kept.items() if path.startswith("data/")}
    size, count = sum(kept.size for kept in payload.values()), len(payload)
    date = place.facts["date"]
    known = ("frames.csv", "files.csv", "not-archived.csv")
    others = [p for p in payload if p.startswith(KNOWLEDGE) and p.rpartition("/")[2] not in known]
    info = [
        ("Bagging-Date", date),
        ("Bag-Software-Agent", f"cornerstop {__version__}"),
        ("External-Identifier", shown_name(dump.resolve().name)),
        ("Payload-Oxum", f"{size}.{count}"),
        ("Pictures-Folder-Files", str(sum(path.startswith(PICTURES) for path in payload))),
        ("Files-Not-Archived", str(left)),
        (OURS, FORM),
    ]
    tags = {
        "README.txt": README.encode("utf-8"),
        "bag-info.txt": bag_info_text(info),
        "bagit.txt": BAGIT,
        "datapackage.json": package_text(shown_name(dump.resolve().name), f"{date}T00:00:00Z", others),
        "manifest-sha512.txt": manifest_text({path: kept.sha512 for path, kept in payload.items()}),
    }
    digests = {name: place.write(name, [data], back=back).sha512 for name, data in tags.items()}
    made = place.write(TAGS, [manifest_text(digests)], back=back)
    interrupted()
    place.finish(manifest_text({f"{place.target.name}/{TAGS}": made.sha512}))
    return size, count


def _checked(readback: bool) -> str:
    if not readback:
        return "not read back"
    return "read back" if CAN_DROP else "read back, perhaps from memory: this system drops no cached pages"


def _now() -> str:
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
