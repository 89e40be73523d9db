"""Workers that share the tasks of a run; where one ends over a task, its other tasks lose nothing."""

from __future__ import annotations

import os
import threading
from collections import Counter, deque
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from concurrent.futures import Future
from concurrent.futures import TimeoutError as NotYet
from contextlib import suppress
from functools import partial
from importlib import import_module
from itertools import islice
from queue import Empty, LifoQueue, SimpleQueue
from typing import Any, TypeVar

from audit.crew.process import EndedError, Failed, Why, Worker
from audit.disk.card_thread import deaf
from audit.disk.work import FILE_S
from audit.errors import AuditError

MOST_WORKERS = 8
AHEAD = 2
"""Batches for each worker that are asked for before their answers are needed."""
BATCH = 64
TRIES: dict[Why, int] = {"time": 1, "memory": 2, "ended": 2, "killed": 5}
"""How often a task may end its worker. Who kills a worker, a person or a system short of memory, does not
mean the file that it happens to read."""
TRIES_TO_BEGIN = 5
LOOK_UP_S = 0.5
"""So often a wait looks up: on some systems nothing else lets a signal through."""

_Answer = TypeVar("_Answer")


def usual_workers() -> int:
    """One for each processor that we may use, up to a few."""
    count = getattr(os, "process_cpu_count", os.cpu_count)()
    return max(1, min(count or 1, MOST_WORKERS))


class Crew:
    """Workers that are begun when they are needed, and end with the `with` block, which they work for.

    Parameters
    ----------
    workers : how many at most; 0: no process is begun, tasks are done here, and not ended by force [1]
    limit_s : work of the processor that one task may cost [s]

    `far` is a crew of other machines, which counts the workers that were `lost` to it.
    """

    far = False
    lost = 0

    def __init__(self, workers: int | None = None, limit_s: float = FILE_S) -> None:
        self.workers = usual_workers() if workers is None else workers
        self.limit_s = limit_s
        self._jobs: list[str] = []
        self._free: LifoQueue[Worker | None] = LifoQueue()
        for _ in range(self.workers):
            self._free.put(None)
        self._running: set[Worker] = set()
        self._calls: SimpleQueue[Callable[[], None] | None] = SimpleQueue()
        self._threads: list[threading.Thread] = []
        self._vain = 0
        self._over = False

    def __enter__(self) -> Crew:
        _at_work.append(self)
        return self

    def __exit__(self, *_: object) -> None:
        _at_work.remove(self)
        self.close()

    def begin(self, job: str) -> None:
        """Begins a first worker for a job that will come: it loads its modules while others load theirs."""
        if self.workers and not self._running:
            self._jobs.append(job)
            self._free.put(self._new(self._free.get()))

    def close(self) -> None:
        """Ends the workers, whatever they are doing."""
        self.retire()
        for worker in list(self._running):
            worker.kill()
        idle = []
        with suppress(Empty):
            while True:
                idle.append(self._free.get_nowait())
        for free in idle:
            self._forget(free)
            self._free.put(None)

    def retire(self) -> None:
        """Takes on no further calls."""
        self._over = True
        for _ in self._threads:
            self._calls.put(None)

    def each(self, job: str, tasks: Iterable[Any], batch: int = BATCH) -> Iterator[Any]:
        """The answer to each task in their order, or `Failed`.

        Raises AuditError where no worker can be begun.
        """
        left = iter(tasks)
        waiting: deque[Future[list[Any]]] = deque()
        while True:
            while len(waiting) < AHEAD * max(self.workers, 1) and (some := list(islice(left, batch))):
                waiting.append(self.later(partial(self.do, job, some)))
            if not waiting:
                return
            yield from result(waiting.popleft())

    def do(self, job: str, tasks: Sequence[Any]) -> list[Any]:
        """The answer to each of a few tasks, or `Failed`; waits for a free worker, and for the answers."""
        if not self.workers:
            work = import_module(job).work
            return [work(task, self.limit_s) for task in tasks]
        found: dict[int, Any] = {}
        ended: Counter[int] = Counter()
        one_by_one = False
        while left := [place for place in range(len(tasks)) if place not in found]:
            suspects = [place for place in left if ended[place]]
            asked = suspects[:1] or (left[:1] if one_by_one else left)
            try:
                found.update(zip(asked, self._ask(job, [tasks[place] for place in asked]), strict=True))
            except EndedError as error:
                if error.idle:
                    continue
                one_by_one = error.at is None
                if one_by_one and len(asked) > 1:
                    continue
                place = asked[error.at or 0]
                ended[place] += 1
                if ended[place] >= TRIES[error.why]:
                    found[place] = Failed(error.why)
        return [found[place] for place in range(len(tasks))]

    def later(self, call: Callable[[], _Answer]) -> Future[_Answer]:
        """Has a call done beside our own work, which may `do` tasks; without workers at once."""
        future: Future[_Answer] = Future()

        def run() -> None:
            if future.set_running_or_notify_cancel():
                try:
                    future.set_result(call())
                except BaseException as error:
                    future.set_exception(error)

        if not self.workers:
            run()
            return future
        self._calls.put(run)
        if len(self._threads) < self.workers:
            thread = threading.Thread(target=self._serve, name="crew", daemon=True)
            self._threads.append(thread)
            thread.start()
        return future

    def spread(self, call: Callable[..., _Answer], tasks: Sequence[Sequence[Any]]) -> Generator[_Answer]:
        """What a call gives for the arguments of each task, in their order; as many at once as workers.

        The call is made in this process, and is to have its work done in another.
        """
        waiting = [self.later(partial(call, *task)) for task in tasks]
        try:
            for future in waiting:
                yield result(future)
        finally:
            for future in waiting:
                future.cancel()

    def _serve(self) -> None:
        deaf()
        while (call := self._calls.get()) is not None:
            call()

    def _ask(self, job: str, tasks: Sequence[Any]) -> list[Any]:
        """The answers of a free worker. Raises EndedError."""
        worker: Worker | None = self._free.get()
        try:
            worker = self._new(worker)
            answers = worker.do(job, tasks)
            self._vain = 0
        except EndedError as error:
            self._forget(worker)
            worker = None
            self._vain += error.idle and error.why != "killed"
            if self._vain >= TRIES_TO_BEGIN:
                raise _cannot_begin(str(error)) from None
            raise
        except BaseException:  # told to stop: what the worker says next belongs to a task of before
            self._forget(worker)
            worker = None
            raise
        finally:
            self._free.put(worker)
        return answers

    def _new(self, worker: Worker | None) -> Worker:
        """The worker, or a new one where there is none yet."""
        if worker is None and not self._over:
            try:
                worker = Worker(self.limit_s, self._jobs)
            except OSError as error:
                raise _cannot_begin(error.strerror or "") from None
            self._running.add(worker)
        if worker is None or self._over:  # it may have been closed meanwhile, by another thread
            self._forget(worker)
            raise RuntimeError("the crew has gone home")
        return worker

    def _forget(self, worker: Worker | None) -> None:
        if worker is not None:
            self._running.discard(worker)
            worker.end()


_at_work: list[Crew] = []


def crew_at_work() -> Crew:
    """The crew of the `with` block that we are in; outside of any, tasks are done in this process."""
    return _at_work[-1] if _at_work else Crew(0)


def result(future: Future[_Answer]) -> _Answer:
    """What a call gave, or raised, once it is done."""
    while True:
        try:
            return future.result(LOOK_UP_S)
        except NotYet:
            if future.done():
                return future.result()


def _cannot_begin(why: str) -> AuditError:
    return AuditError(f"no process can be begun to read the files in ({why}); use --workers 0")
