"""Files opened for reading only where they are files: a pipe or a device in their place is never awaited."""

from __future__ import annotations

import errno
import os
import stat
from io import BufferedReader
from pathlib import Path

from audit.message.text import marked

NOT_REGULAR = marked("is no regular file")
PASSED_OVER = marked("is no regular file; passed over")
_FLAGS = os.O_RDONLY | sum(getattr(os, name, 0) for name in ("O_NONBLOCK", "O_CLOEXEC", "O_BINARY"))


class NotRegularError(OSError):
    """What lies at a path is a folder, a pipe, a socket or a device; `strerror` says so."""

    def __init__(self, path: Path) -> None:
        super().__init__(errno.EINVAL, NOT_REGULAR, os.fspath(path))


def is_regular(path: Path) -> bool:
    """Whether a regular file lies at a path, or at the end of its links. Raises OSError as `stat` does."""
    return stat.S_ISREG(path.stat().st_mode)


def is_something_else(path: Path) -> bool:
    """Whether a folder, a pipe, a socket or a device lies at a path, or at the end of its links."""
    try:
        return not is_regular(path)
    except (OSError, ValueError):
        return False


def open_regular(path: Path) -> BufferedReader:
    """Opens a regular file for reading. Raises NotRegularError for anything else, OSError as `open` does."""
    return os.fdopen(regular_descriptor(path), "rb")


def regular_descriptor(path: Path) -> int:
    """An open descriptor of a regular file, for reading. Raises as `open_regular` does."""
    if not is_regular(path):  # some devices act when they are opened
        raise NotRegularError(path)
    descriptor = os.open(path, _FLAGS)  # what took the file's place since then is not waited for either
    try:
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            raise NotRegularError(path)
    except BaseException:
        os.close(descriptor)
        raise
    return descriptor
