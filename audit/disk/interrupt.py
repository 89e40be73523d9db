"""Being told to stop: what a signal does at each stage of a run, and whether one came.

Before the work begins nothing has been written, and the process may leave at once. During the work a
KeyboardInterrupt is raised, and remembered: a library may turn it into an error of its own, and one that is
raised in a destructor is lost. When the result is known, nothing is heard any more.
"""

from __future__ import annotations

import _thread
import signal
import sys
import time
from collections.abc import Callable

SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
"""Of these, what the system has; one that is ignored when we start, as by nohup, stays ignored."""

PATIENCE_S = 3.0
"""So long a second signal does not disturb the cleaning up after a first one."""

AGAIN_S = 0.02
"""So long after an interrupt was lost it comes once more."""


class _Stage:
    """Where the process stands: before the work (`leave` says what to do), at it, or over."""

    leave: Callable[[], object] | None = None
    heard: tuple[int, ...] = ()
    asked = over = False
    number = 0
    deaf_until = 0.0


_stage = _Stage()


def watch(leave: Callable[[], object]) -> None:
    """From now on signals are heard; until the work begins, each of them does `leave`."""
    _stage.leave, _stage.asked, _stage.over, _stage.deaf_until = leave, False, False, 0.0
    known = (getattr(signal, name) for name in SIGNALS if hasattr(signal, name))
    _stage.heard = tuple(number for number in known if signal.getsignal(number) is not signal.SIG_IGN)
    for number in _stage.heard:
        signal.signal(number, _told)
    sys.unraisablehook, sys.excepthook = _lost(sys.unraisablehook), _silent(sys.excepthook)


def begin() -> None:
    """The work begins: from now on a signal raises KeyboardInterrupt."""
    import threading  # only now: `watch` is the first thing a process does, and waits for no module

    threading.excepthook = _silent(threading.excepthook)
    _stage.leave = None


def asked() -> bool:
    """Whether the work was told to stop."""
    return _stage.asked and not _stage.over


def interrupted() -> None:
    """Raises KeyboardInterrupt if the work was told to stop: to be called before a result is put in place."""
    if asked():
        raise KeyboardInterrupt


def settle() -> None:
    """The result is known: from now on nothing is heard."""
    _stage.over = True
    for number in _stage.heard:
        signal.signal(number, signal.SIG_IGN)


def _told(number: int, _frame: object) -> None:
    """The handler of each signal."""
    if _stage.over:
        return
    if _stage.leave is not None:
        _stage.leave()
    _stage.asked, _stage.number = True, number
    now = time.monotonic()
    if now >= _stage.deaf_until:
        _stage.deaf_until = now + PATIENCE_S
        raise KeyboardInterrupt


def _silent(shown: Callable[..., object]) -> Callable[..., None]:
    """A hook that shows errors as before, but none that comes of being told to stop."""

    def hook(*error: object) -> None:
        if not _stage.asked:
            shown(*error)

    return hook


def _lost(shown: Callable[..., object]) -> Callable[[sys.UnraisableHookArgs], None]:
    """The same for errors that nobody can catch; an interrupt among them comes once more."""
    silent = _silent(shown)

    def hook(found: sys.UnraisableHookArgs) -> None:
        silent(found)
        if asked() and isinstance(found.exc_value, KeyboardInterrupt):
            _stage.deaf_until = 0.0
            _thread.start_new_thread(_once_more, (_thread.get_ident(),))

    return hook


def _once_more(thread: int) -> None:
    """Sent to the thread, the signal ends its waiting too; else it comes when that is over."""
    time.sleep(AGAIN_S)
    if not asked():
        return
    if sys.platform == "win32":
        signal.raise_signal(_stage.number)
    else:
        signal.pthread_kill(thread, _stage.number)
