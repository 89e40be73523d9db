"""What runs in a worker: it does the tasks that it is sent, until nobody sends any more.

Nothing that a library prints gets among the answers: they leave by a descriptor that no library knows. Before
each task one byte goes out by another, so that the other side knows at which task a worker has ended.
"""

from __future__ import annotations

import os
import signal
import sys
import traceback
from collections.abc import Callable
from contextlib import suppress
from importlib import import_module
from typing import Any

from audit.crew.wire import receive, send
from audit.disk import work

OUT_OF_MEMORY = 75
"""Exit code: the next try, in a fresh process, may have enough."""

Work = Callable[[Any, float], Any]


def main(limit_s: str, *jobs: str) -> None:
    """Does tasks; `limit_s` is how long one of them may take, `jobs` are loaded before the first comes."""
    tasks, answers, progress = _own_ends()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a terminal tells it to all; who sends the tasks decides
    _bound_memory()
    work.end_by_force()
    try:
        for job in jobs:
            import_module(job)
    except BaseException:
        os.write(progress, traceback.format_exc().encode())
        raise
    send(answers, "ready")
    with suppress(EOFError, OSError):
        while True:
            job, batch = receive(tasks)
            module = import_module(job)
            if hasattr(module, "expect"):
                module.expect(batch)
            does: Work = module.work
            send(answers, [_done(does, task, float(limit_s), progress) for task in batch])


def _own_ends() -> tuple[int, ...]:
    """The three ends of pipes we were given, out of everybody else's way."""
    nothing = os.open(os.devnull, os.O_RDWR)
    ends = tuple(os.dup(number) for number in range(3))
    for number in range(3):
        os.dup2(nothing, number)
    return ends


def _bound_memory() -> None:
    with suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (work.MEMORY_BYTES, work.MEMORY_BYTES))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _done(does: Work, task: Any, limit_s: float, progress: int) -> list[Any]:
    """True and the answer, or False and the name of the fault."""
    os.write(progress, b".")
    work.allow(limit_s)
    try:
        return [True, does(task, limit_s)]
    except MemoryError:
        os._exit(OUT_OF_MEMORY)
    except Exception as error:
        return [False, type(error).__name__]


if __name__ == "__main__":
    try:
        main(*sys.argv[1:])
    finally:
        os._exit(0)  # a thread that waits for a card is not waited for
