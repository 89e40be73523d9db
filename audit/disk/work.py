"""How long a piece of work may take, in the time that the processor really gave to it.

A suspended program, a sleeping machine or a busy one makes nothing look slow.
"""

from __future__ import annotations

import faulthandler
import math
import os
import signal
import threading
import time
from collections.abc import Callable
from types import FrameType
from typing import Any, TypeVar

resource: Any
try:
    import resource
except ImportError:  # a system that counts no work of a process
    resource = None

FILE_S = 5.0
"""For one file, where nothing else was asked for; a camera's own takes a thousandth of it."""
MEMORY_BYTES = 2 << 30
"""Of address space for one file, where the system counts it. The largest picture that is decoded here takes
half of it."""
SPARE_S = 2.0
"""So much past its limit a process is ended by force."""
OVER_TIME = 76
"""Exit code of a process that ended itself for it, where the system does not do so by a signal."""
LONG_STOP = 20
"""So many times as long a process may take by the clock on the wall, where nothing else can end it."""
AGAIN_S = 0.2
_LEAST_S = 1e-6
_Answer = TypeVar("_Answer")


class TookTooLongError(Exception):
    """A piece of work went past its limit."""


class _Ring:
    """What is called when the time is over, for as long as the work goes on."""

    working = True

    def __call__(self, _signal: int, _frame: FrameType | None) -> None:
        if self.working:
            raise TookTooLongError


def within(limit_s: float, work: Callable[[], _Answer]) -> _Answer:
    """What `work` gives. Raises TookTooLongError once it has used `limit_s` of the processor's time.

    Outside the main thread, and where a system has no such timer, there is no limit. A timer and a handler
    that were set before are put back, and the timer has counted meanwhile.
    """
    allow(limit_s)
    if not _can_ring():
        return work()
    ring, began_s, before = _Ring(), time.process_time(), (0.0, 0.0)
    handler = signal.signal(signal.SIGPROF, ring)
    try:
        # It goes on ringing: an exception raised within a destructor or a collector's callback is swallowed.
        before = signal.setitimer(signal.ITIMER_PROF, limit_s, AGAIN_S)
        return work()
    finally:
        ring.working = False  # before any call, at which it might ring once more and leave the timer running
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, handler)
        if before[0]:
            left_s = before[0] - (time.process_time() - began_s)
            signal.setitimer(signal.ITIMER_PROF, max(left_s, _LEAST_S), before[1])


def _can_ring() -> bool:
    """Whether a timer can be set here, and the handler that there is be put back."""
    if not hasattr(signal, "setitimer") or threading.current_thread() is not threading.main_thread():
        return False
    return signal.getsignal(signal.SIGPROF) is not None


class _Force:
    """Until which second of the processor's time this process may go on; None: nothing ends it."""

    until_s: int | None = None


def end_by_force() -> None:
    """From now on this process ends where a piece of work goes on past its limit, whatever it is doing.

    For a process of which nothing is needed but the work: the system ends it, and where there is none that
    does, a thread, or (code that lets no thread run) Python's own watch after a much longer time.
    """
    _Force.until_s = 0
    if resource is None:
        threading.Thread(target=_watch, name="time", daemon=True).start()


def allow(limit_s: float) -> None:
    """Lets a process that is ended by force go on for `limit_s` of the processor's time, and some spare."""
    if _Force.until_s is None:
        return
    until_s = math.ceil(time.process_time() + limit_s + SPARE_S)
    if until_s <= _Force.until_s:
        return
    _Force.until_s = until_s
    if resource is not None:
        most_s = resource.getrlimit(resource.RLIMIT_CPU)[1]
        bounded = most_s not in (resource.RLIM_INFINITY, -1)
        resource.setrlimit(resource.RLIMIT_CPU, (min(until_s, most_s) if bounded else until_s, most_s))
    else:
        faulthandler.dump_traceback_later(LONG_STOP * (limit_s + SPARE_S), file=2, exit=True)


def _watch() -> None:
    """Looks at the clock."""
    while True:
        time.sleep(AGAIN_S)
        if _Force.until_s and time.process_time() > _Force.until_s:
            os._exit(OVER_TIME)
