"""How long a piece of work may take, in the time that the processor really gave to it.

A suspended program, a sleeping machine or a busy one makes nothing look slow.
"""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Callable
from types import FrameType
from typing import TypeVar

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
