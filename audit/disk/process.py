"""Names of temporary folders that tell which process made them, and whether that process is gone."""

from __future__ import annotations

import os
import platform
import re
import secrets
from pathlib import Path

TEMPORARY = re.compile(r"\.cornerstop-(?P<host>[^.]*)\.(?P<pid>\d+)\.(?P<start>\d+)\.[0-9a-f]{8}")
_START_FIELD = 19
"""Start time of a process in /proc/PID/stat, counted behind the name in brackets (proc(5): field 22)."""


def temporary_name() -> str:
    """A new hidden name with this host, process and its start: .cornerstop-HOST.PID.START.RANDOM."""
    return f".cornerstop-{_host()}.{os.getpid()}.{_start(os.getpid()) or 0}.{secrets.token_hex(4)}"


def left_behind(name: str) -> bool:
    """Whether a name is that of a temporary file or folder whose process on this host is gone.

    False where that cannot be known: a name of another host, a system without process numbers to ask for.
    """
    found = TEMPORARY.fullmatch(name)
    if found is None or found["host"] != _host() or os.name != "posix":
        return False
    pid, start = int(found["pid"]), int(found["start"])
    return not _exists(pid) or (start > 0 and _start(pid) not in (None, start))


def _host() -> str:
    return re.sub(r"[^A-Za-z0-9-]", "-", platform.node())[:40]


def _exists(pid: int) -> bool:
    try:
        os.kill(pid, 0)  # signal 0 asks whether the process exists, and does nothing to it
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:  # another user's
        return True
    return True


def _start(pid: int) -> int | None:
    """When a process began, in the system's ticks; None where the system does not tell."""
    try:
        words = Path(f"/proc/{pid}/stat").read_bytes().rpartition(b")")[2].split()
        return 0 if words[0] in (b"Z", b"X") else int(words[_START_FIELD])  # ended, not yet waited for
    except (OSError, ValueError, IndexError):
        return None
