"""Files read for their digest; where the system can be told to, past the pages it keeps in memory."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from pathlib import Path

from audit.disk.regular import regular_descriptor

CHUNK = 1 << 20
CAN_DROP = hasattr(os, "posix_fadvise")
"""Whether cached pages of a file can be dropped here; else a check may read memory instead of the disk."""


def drop_pages(descriptor: int) -> None:
    """Has the system forget what it keeps of an open file in memory (posix_fadvise(2): DONTNEED)."""
    if CAN_DROP:
        os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)


def hashed(
    path: Path,
    *algorithms: str,
    dropping: bool = True,
    read: Callable[[int], object] | None = None,
) -> tuple[int, dict[str, str]]:
    """Size of a regular file and its digests. Raises OSError; `read` gets the bytes of each chunk."""
    sums = {name: hashlib.new(name) for name in algorithms}
    size = 0
    descriptor = regular_descriptor(path)
    try:
        if dropping:
            drop_pages(descriptor)
        while data := os.read(descriptor, CHUNK):
            size += len(data)
            for one in sums.values():
                one.update(data)
            if read is not None:
                read(len(data))
    finally:
        os.close(descriptor)
    return size, {name: one.hexdigest() for name, one in sums.items()}


def how_checked(*, back: bool) -> str:
    """What to say of files that were written, with or without reading them back."""
    if not back:
        return "not read back"
    return "read back" if CAN_DROP else "read back, perhaps from memory: this system drops no cached pages"
