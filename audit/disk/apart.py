"""Whether one folder lies in another, by whatever names; and what must not lie in each other."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from audit.disk.marker import OUTPUT_MARKER
from audit.disk.report_folder import real
from audit.disk.runs import not_ours
from audit.errors import AuditError

_MOUNTS = Path("/proc/self/mountinfo")
_OCTAL = re.compile(rb"\\([0-7]{3})")


@dataclass(frozen=True)
class _Mount:
    """One line of proc(5), mountinfo: which folder of which device is seen at which place."""

    device: bytes
    root: Path
    point: Path


def lies_in(inner: Path, outer: Path) -> bool:
    """Whether `inner` is `outer` or lies below it: through links, other spellings and bind mounts too.

    Either may not exist yet; nothing lies in a folder that does not exist.
    """
    if not outer.exists():
        return False
    same = outer.stat()
    return any(_is(place, same) for place in _above(inner))


def report_around(path: Path) -> Path | None:
    """The report folder, or the run in it, that a path lies in; None where it lies in none."""
    return next((place for place in _above(path) if (place / OUTPUT_MARKER).is_file()), None)


def refuse_in_report(**named: Path | None) -> None:
    """Raises AuditError where one of the paths lies in a report; the keys are what each is, for the message.

    What lies there could be taken for the report's own.
    """
    for what, path in named.items():
        around = report_around(path) if path is not None else None
        if around is not None:
            raise AuditError(
                f"{path}: the {what} lies in the report folder {around}; move it elsewhere, or name another"
            )


def refuse_out(out: Path, dump: Path, *, inside: bool = True) -> None:
    """Raises AuditError where the report folder holds the dump, or lies in it and holds something else.

    Without `inside` it may not lie in the dump at all.
    """
    if lies_in(dump, out):
        raise AuditError(f"{out}: the dump {dump} lies in this folder; name another folder for the report")
    if not inside and lies_in(out, dump):
        raise AuditError(f"{out}: lies in the dump {dump}; name a folder beside the dumps for the report")
    if out.is_dir() and lies_in(out, dump) and (others := not_ours(out)):
        raise AuditError(
            f"{out}: lies in the dump {dump}, so that what is in it would be passed over, and holds "
            f"{others[0]}; move that elsewhere, or name a new folder"
        )


def refuse_own(folder: Path, dump: Path, *, advice: str) -> None:
    """Raises AuditError where a folder that this program keeps for itself lies in the dump or around it."""
    if lies_in(folder, dump):
        raise AuditError(f"{folder}: this program's own folder lies in the dump {dump}; {advice}")
    if lies_in(dump, folder):
        raise AuditError(f"{dump}: the dump lies in this program's own folder {folder}; name another dump")


def refuse_temporary(folder: Path, dump: Path) -> None:
    """Raises AuditError where the system's folder for temporary files lies in the dump."""
    if lies_in(folder, dump):
        raise AuditError(
            f"{folder}: the folder for temporary files lies in the dump {dump}; name a folder of pictures, "
            "use --pixels off, or set TMPDIR"
        )


def _above(path: Path) -> Iterator[Path]:
    """The path and all folders above it, also where it is seen elsewhere by a bind mount."""
    place = real(path)
    yield from (place, *place.parents)
    mounts = _mounts()
    found = _on_device(place, mounts)
    if found is None:
        return
    for above in (found[1], *found[1].parents):
        for mount in mounts:
            if mount.device == found[0] and above.is_relative_to(mount.root):
                seen = mount.point / above.relative_to(mount.root)
                yield from (seen, *seen.parents)


def _is(path: Path, same: os.stat_result) -> bool:
    try:
        return os.path.samestat(path.stat(), same)
    except OSError:
        return False


def _on_device(path: Path, mounts: list[_Mount]) -> tuple[bytes, Path] | None:
    """The device a path lies on and its place there, the same whichever mount it is seen through."""
    over = [mount for mount in mounts if path.is_relative_to(mount.point)]
    if not over:
        return None
    mount = max(enumerate(over), key=lambda m: (len(m[1].point.parts), m[0]))[1]
    return mount.device, mount.root / path.relative_to(mount.point)


def _mounts() -> list[_Mount]:
    """What is mounted where; nothing where the system does not tell."""
    try:
        lines = _MOUNTS.read_bytes().splitlines()
    except OSError:
        return []
    words = [line.split() for line in lines]
    return [_Mount(w[2], _place(w[3]), _place(w[4])) for w in words if len(w) > 4]


def _place(written: bytes) -> Path:
    return Path(os.fsdecode(_OCTAL.sub(lambda m: bytes([int(m[1], 8)]), written)))
