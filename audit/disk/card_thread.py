"""Threads that wait for the card in the place of their callers, since no signal ends a read that is blocked.

The caller waits for an answer, and not for ever: it counts slices of its own time, so that a program that was
suspended meanwhile has lost one slice and no more. A thread that got no answer is left where it is.
"""

from __future__ import annotations

import math
import signal
import threading
from collections.abc import Callable
from contextlib import suppress
from queue import Empty, SimpleQueue
from typing import Any, TypeVar

from audit.message.text import say

SILENT_S, SILENT_AGAIN_S = 60.0, 1.0
"""How long an answer is waited for, and how long after several files in a row that gave none."""
SILENT_FILES = 3
SLICE_S, LEAST_SLICES = 0.5, 4
MOST_STUCK = 32
"""Threads without an answer; when there are so many, one has to come back before the next is begun."""
_FOR_THE_CALLER = ("SIGINT", "SIGTERM", "SIGHUP", "SIGALRM", "SIGPROF")

Job = Callable[[], Any]
_Answer = TypeVar("_Answer")


def deaf() -> None:
    """Leaves every signal to the main thread; for a thread that waits."""
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_BLOCK, {getattr(signal, name) for name in _FOR_THE_CALLER})


class SilentCardError(OSError):
    """The card gave no byte for so long that nothing more is expected; `strerror` says for how long."""

    def __init__(self, waited_s: float) -> None:
        super().__init__(0, say("the card did not answer for {seconds:g} s", seconds=waited_s))


class CardThread:
    """A thread that does the jobs of the one caller that has taken it, in their order."""

    def __init__(self) -> None:
        self._jobs: SimpleQueue[tuple[int, Job] | None] = SimpleQueue()
        self._done: SimpleQueue[tuple[int, Any, Exception | None]] = SimpleQueue()
        self._asked = self._answered = 0
        self._thread = threading.Thread(target=self._serve, name="card", daemon=True)
        self._thread.start()

    @property
    def owes(self) -> bool:
        """Whether it was asked and has not answered."""
        return self._answered < self._asked

    def ends_within(self, wait_s: float) -> bool:
        """Whether it has ended, or does so in time."""
        if wait_s:
            self._thread.join(wait_s)
        return not self._thread.is_alive()

    def ask(self, job: Job, patience_s: float) -> tuple[Any, Exception | None]:
        """What the job gave, and what it raised. Raises SilentCardError where it does neither in time."""
        self._asked += 1
        self._jobs.put((self._asked, job))
        slices = max(LEAST_SLICES, math.ceil(patience_s / SLICE_S))
        waited = 0
        while waited < slices:
            try:
                number, answer, fault = self._done.get(timeout=patience_s / slices)
            except Empty:
                waited += 1
                continue
            self._answered = number
            if number == self._asked:  # an earlier answer is one whose caller was interrupted
                return answer, fault
        raise SilentCardError(patience_s)

    def later(self, job: Job) -> None:
        """Has a job done when it can be, without waiting; what comes of it is lost."""
        self._jobs.put((0, job))

    def end(self) -> None:
        """Lets the thread go once its jobs are done."""
        self._jobs.put(None)

    def _serve(self) -> None:
        deaf()
        while (task := self._jobs.get()) is not None:
            number, job = task
            answer, fault = _outcome(job)
            if number:
                self._done.put((number, answer, fault))
            del task, job, answer, fault  # a file that the caller has let go may hang on them
        self._let_go()

    def _let_go(self) -> None:
        """Closes what was opened for a caller that had stopped waiting."""
        with suppress(Empty, OSError):
            while True:
                answer = self._done.get_nowait()[1]
                if hasattr(answer, "close"):
                    answer.close()


class CardThreads:
    """Threads that are free, those that still owe an answer, and how many files in a row gave none."""

    def __init__(self) -> None:
        self._free: list[CardThread] = []
        self._stuck: list[CardThread] = []
        self._silent_files = 0

    def take(self) -> CardThread:
        """A thread for one file. Raises SilentCardError where too many have not come back."""
        with suppress(IndexError):  # none is free, or another thread has just taken the last
            while True:
                thread = self._free.pop()
                if not thread.ends_within(0):  # in a forked process none runs
                    return thread
        self._stuck = [thread for thread in self._stuck if not thread.ends_within(0)]
        if len(self._stuck) >= MOST_STUCK and not self._stuck[0].ends_within(SILENT_AGAIN_S):
            raise SilentCardError(SILENT_AGAIN_S)
        return CardThread()

    def give_back(self, thread: CardThread) -> None:
        """Keeps a thread for the next file, or leaves it where it is."""
        if thread.owes:
            thread.end()
            self._stuck.append(thread)
        else:
            self._free.append(thread)

    def ask(self, thread: CardThread, job: Callable[[], _Answer]) -> _Answer:
        """What the job gives or raises. Raises SilentCardError where the card does not answer in time."""
        patient = self._silent_files < SILENT_FILES
        try:
            answer, fault = thread.ask(job, SILENT_S if patient else SILENT_AGAIN_S)
        except SilentCardError:
            self._silent_files += 1
            raise
        self._silent_files = 0
        if fault is not None:
            try:
                raise fault
            finally:
                del fault  # its frames hold it
        return answer


THREADS = CardThreads()


def _outcome(job: Job) -> tuple[Any, Exception | None]:
    try:
        return job(), None
    except Exception as error:
        return None, error
