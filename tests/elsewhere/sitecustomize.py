"""Takes from a Python process, before anything else is loaded, what other systems lack.

A process that finds this folder in PYTHONPATH has no alarms, forks, links, umask, rights and locks of POSIX.
As on Windows a folder is not opened; and below the folder that ELSEWHERE names no open file is replaced
or removed, nor a folder that holds one.
"""

from __future__ import annotations

import errno
import os
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

TAKEN: dict[Any, str] = {
    signal: "SIGHUP SIGALRM SIGPROF SIGUSR1 ITIMER_REAL ITIMER_PROF setitimer getitimer alarm "
    "pthread_sigmask pthread_kill SIG_BLOCK",
    os: "fork forkpty umask link symlink mkfifo mknod pread getuid geteuid getegid fchmod fchown chown sync "
    "statvfs posix_fadvise register_at_fork sched_getaffinity killpg setsid "
    "O_NONBLOCK O_CLOEXEC O_TMPFILE O_NOFOLLOW O_DIRECTORY",
}
MODULES = ("fcntl", "resource", "termios", "grp", "pwd", "pty")
_OPEN_FILES = "/proc/self/fd"


def take_away() -> None:
    """Does it, for this process."""
    for module, names in TAKEN.items():
        for name in names.split():
            if hasattr(module, name):
                delattr(module, name)
    for name in MODULES:
        sys.modules[name] = None  # type: ignore[assignment]
    for name in ("replace", "rename", "unlink", "remove", "rmdir"):
        setattr(os, name, _refusing(getattr(os, name)))
    os.open = _no_folder(os.open)


def _refusing(real: Callable[..., Any]) -> Callable[..., Any]:
    def call(*arguments: Any, **named: Any) -> Any:
        for word in arguments:
            if isinstance(word, (str, bytes, os.PathLike)) and _is_open(
                os.fsdecode(Path.cwd() / os.fsdecode(word))
            ):
                raise PermissionError(errno.EACCES, "is open in a process", os.fsdecode(word))
        return real(*arguments, **named)

    return call


def _is_open(path: str) -> bool:
    if not path.startswith(os.environ.get("ELSEWHERE", "/nowhere")):
        return False
    for number in os.listdir(_OPEN_FILES):  # noqa: PTH208 (pathlib would ask this module again)
        try:
            one = os.readlink(f"{_OPEN_FILES}/{number}")  # noqa: PTH115
        except OSError:
            continue
        if one == path or one.startswith(f"{path}/"):
            return True
    return False


def _no_folder(real: Callable[..., int]) -> Callable[..., int]:
    def call(path: Any, *more: Any, **named: Any) -> int:
        if not isinstance(path, int) and os.path.isdir(path):  # noqa: PTH112
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), os.fsdecode(path))
        return real(path, *more, **named)

    return call


take_away()
