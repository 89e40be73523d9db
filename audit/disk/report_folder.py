"""The folder that holds reports: its marker, whose turn it is to put a run into it, and who is refused."""

from __future__ import annotations

import os
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from audit.disk.manifest import HEAD
from audit.disk.marker import OUTPUT_MARKER
from audit.disk.regular import open_regular
from audit.errors import AuditError

try:
    import fcntl
except ImportError:  # a system without such locks: two runs still take two numbers
    fcntl = None  # type: ignore[assignment]

MARKER_TEXT = (
    "cornerstop report folder 1\n"
    "Runs of cornerstop lie in this folder. What each has written stands in its own list; only that may be\n"
    "removed, while it is unchanged. All else in this folder stays where it is.\n"
)
TURN_S, AGAIN_S = 30.0, 0.05
"""How long another run is waited for, and how often it is asked."""


def real(path: Path) -> Path:
    """The path without links. Raises AuditError for a link that leads round in a circle."""
    try:
        return path.resolve()
    except (OSError, RuntimeError):
        raise AuditError(f"{path}: is a link that leads nowhere; name another folder") from None


def is_report_folder(folder: Path) -> bool:
    """Whether the folder carries our marker, be it half written."""
    text = _marker(folder)
    return text is not None and (text.startswith(MARKER_TEXT) or MARKER_TEXT.startswith(text))


def refuse_foreign(out: Path) -> None:
    """Raises AuditError where `out` is neither free nor a folder of reports."""
    try:
        if not out.exists():
            return
        if not out.is_dir():
            raise AuditError(f"{out}: is a file; name a folder for the report")
        if not any(out.iterdir()) or is_report_folder(out):
            return
    except OSError as error:
        raise refused(out, error) from error
    text = _marker(out)
    if text is None:
        raise AuditError(
            f"{out}: not written by cornerstop ({OUTPUT_MARKER} is missing); name another folder"
        )
    if text.startswith(HEAD):
        raise AuditError(f"{out}: is one run of a report; name the folder above it, or another")
    raise AuditError(
        f"{out}: holds a report without a list of its files, so nothing in it may be replaced; "
        "name another folder"
    )


def refused(out: Path, error: OSError) -> AuditError:
    """What the disk refused, in one line."""
    return AuditError(
        f"{out}: cannot write the report: {error.strerror or error}; free space or name another folder"
    )


@contextmanager
def turn(out: Path) -> Iterator[None]:
    """Marks the folder as ours, and waits until no other run is putting something into it.

    After `TURN_S` it goes on regardless: each step is safe on its own. A process that ended holds nothing.
    Raises OSError where the disk refuses.
    """
    out.mkdir(exist_ok=True)
    flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    handle = os.open(out / OUTPUT_MARKER, flags, 0o644)
    try:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            raise AuditError(f"{out}: {OUTPUT_MARKER} in it is no file of ours; name another folder")
        _wait(handle)
        if os.fstat(handle).st_size < len(MARKER_TEXT):
            os.write(handle, MARKER_TEXT.encode())
        yield
    finally:
        os.close(handle)


def _wait(handle: int) -> None:
    if fcntl is None:
        return
    until = time.monotonic() + TURN_S
    while time.monotonic() < until:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            time.sleep(AGAIN_S)
        except OSError:  # a file system that knows no locks
            return
        else:
            return


def _marker(folder: Path) -> str | None:
    with suppress(OSError), open_regular(folder / OUTPUT_MARKER) as file:
        return file.read(len(MARKER_TEXT) + 1).decode("utf-8", "replace")
    return None
