"""One file put in place whole: nobody ever sees half of it, and nothing else lies beside it meanwhile.

Where the system can, the file has no name while it is written (Linux, open(2): O_TMPFILE) and gets one for
the instant of the rename only. That name holds the process and the file's digest, so that what a kill leaves
is known for ours, and is removed by the next one that writes there.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import stat
from contextlib import suppress
from pathlib import Path

from audit.disk.building import sync_one
from audit.disk.process import TEMPORARY, left_behind, temporary_name
from audit.disk.regular import open_regular

_NAMED = re.compile(rf"(?P<made>{TEMPORARY.pattern})\.(?P<digest>[0-9a-f]{{16}})")
_NO_UNNAMED = {errno.EOPNOTSUPP, errno.EISDIR, errno.EINVAL, errno.ENOENT}
_OPEN_FILES = Path("/proc/self/fd")
NEW_FILE_MODE = 0o644


def put_whole(
    path: Path,
    data: bytes,
    *,
    replacing: bool,
    like: os.stat_result | None = None,
    time_ns: int | None = None,
    one_of_many: bool = False,
) -> None:
    """Writes a new file, or one in place of another (`replacing`), in one step.

    It gets rights and owner of a file `like` it, and `time_ns` as time of change. Raises FileExistsError
    where there is a file that is not to be replaced, OSError where the disk refuses: then all is as it was.
    For `one_of_many` in a folder the caller clears leftovers before the first, and syncs it after the last.
    """
    if not one_of_many:
        clear_leftovers(path.parent)
    named = path.with_name(f"{temporary_name()}.{_digest(data)}")
    handle = _unnamed(path.parent)
    unnamed = handle is not None
    try:
        if handle is None:
            handle = os.open(named, os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600)
        with os.fdopen(handle, "wb") as file:  # deletes: nothing: the file was made just now
            file.write(data)
            file.flush()
            _make_like(handle, like)
            if time_ns is not None and os.utime in os.supports_fd:
                os.utime(handle, ns=(time_ns, time_ns))
            os.fsync(handle)
            if unnamed:
                _give_name(handle, named if replacing else path)
        if replacing:
            named.replace(path)  # deletes: the file that the caller was told to put this one in place of
        elif not unnamed:
            _move_to_free(named, path)
        if not one_of_many:
            sync_one(path.parent)
    finally:
        with suppress(FileNotFoundError):
            named.unlink()  # deletes: the file that was made above under a name of its own


def clear_leftovers(folder: Path) -> None:
    """Removes from a folder what a process that is gone left there for want of the last step."""
    for path in sorted(folder.iterdir()):
        found = _NAMED.fullmatch(path.name)
        if found is not None and left_behind(found["made"]) and _holds(path, found["digest"]):
            path.unlink()  # deletes: ours by its name, process and digest


def _make_like(handle: int, like: os.stat_result | None) -> None:
    if not hasattr(os, "geteuid"):  # Windows has neither owners nor rights of this kind
        return
    os.fchmod(handle, NEW_FILE_MODE if like is None else stat.S_IMODE(like.st_mode))
    if like is not None and (like.st_uid, like.st_gid) != (os.geteuid(), os.getegid()):
        with suppress(OSError):  # only root may give a file to somebody else
            os.fchown(handle, like.st_uid, like.st_gid)


def _holds(path: Path, digest: str) -> bool:
    try:
        with open_regular(path) as file:
            return not path.is_symlink() and _digest(file.read()) == digest
    except OSError:
        return False


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:16]


def _unnamed(folder: Path) -> int | None:
    """A new file without a name in a folder; None where the system knows no such thing."""
    if not hasattr(os, "O_TMPFILE") or not _OPEN_FILES.is_dir():
        return None
    try:
        return os.open(folder, os.O_TMPFILE | os.O_RDWR, 0o600)
    except OSError as error:
        if error.errno in _NO_UNNAMED:
            return None
        raise


def _give_name(handle: int, path: Path) -> None:
    """linkat(2) from the open file; raises FileExistsError where the name is taken."""
    folder = os.open(path.parent, os.O_RDONLY)
    try:  # with a folder given, os.link follows the link in /proc to the file itself
        os.link(_OPEN_FILES / str(handle), path.name, dst_dir_fd=folder, follow_symlinks=True)
    finally:
        os.close(folder)


def _move_to_free(named: Path, path: Path) -> None:
    try:
        os.link(named, path)
    except FileExistsError:
        raise
    except (OSError, AttributeError):  # no hard links here: the look before the move is all that can be done
        if os.path.lexists(path):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path)) from None
        named.rename(path)  # deletes: nothing: looked just now, and the name is free
