"""A crew on other machines: workers of dask.distributed, that see the dump under the same paths.

A worker that is lost costs time and nothing else: the scheduler has another one do its tasks again. Who can
reach a scheduler can have it do anything; one that is started here listens to this machine alone.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from itertools import islice
from typing import TYPE_CHECKING, Any, TypeVar

from audit.crew import wire
from audit.crew.crew import BATCH, Crew, usual_workers
from audit.crew.process import Failed
from audit.disk.work import FILE_S
from audit.errors import AuditError
from audit.scale import tasks as remote

if TYPE_CHECKING:
    from distributed import Future

_Answer = TypeVar("_Answer")

BATCHES_AHEAD = 4
"""Batches that wait for each worker: what is asked for and answered stays small in memory."""
ANSWERS_WITHIN_S = 30.0
MISSING = "--engine dask needs more packages: pip install 'cornerstop[scale]'"


class Cluster(Crew):
    """The workers at a scheduler, or processes here; after `close`, `lost` counts those that ended."""

    far = True

    def __init__(
        self, scheduler: str | None = None, workers: int | None = None, limit_s: float = FILE_S
    ) -> None:
        """Joins the cluster at `scheduler` (tcp://...), else starts one of `workers` processes.

        Raises AuditError where the packages are missing or nobody answers.
        """
        try:
            from distributed import Client, LocalCluster
        except ImportError:
            raise AuditError(MISSING) from None
        self._own: Any = None
        if scheduler is None:
            self._own = LocalCluster(
                n_workers=workers or usual_workers(),
                threads_per_worker=1,
                host="127.0.0.1",
                dashboard_address="127.0.0.1:0",
                silence_logs=50,
            )
        try:
            self.client = Client(self._own or scheduler, timeout=ANSWERS_WITHIN_S)
        except (OSError, ValueError):
            told = f"--scheduler {scheduler}: nobody answers there; start it, or leave it out"
            raise AuditError(told) from None
        super().__init__(max(1, sum(self.client.nthreads().values())), limit_s)

    def begin(self, job: str) -> None:
        """Nothing: the workers are there."""

    def close(self) -> None:
        """Ends the workers that were started here, and leaves those of another."""
        events = [event for _, event in self.client.get_events("all")]
        self.lost = sum(e["action"] == "remove-worker" and not e.get("expected", True) for e in events)
        self.retire()
        self.client.close()
        if self._own is not None:
            self._own.close()

    def each(self, job: str, tasks: Iterable[Any], batch: int = BATCH) -> Iterator[Any]:
        """The answer to each task in their order, or `Failed`.

        Raises AuditError where one batch ends worker after worker.
        """
        from distributed import KilledWorker

        most = BATCHES_AHEAD * self.workers
        left = iter(tasks)
        waiting: deque[Future] = deque()
        try:
            while True:
                while len(waiting) < most and (some := list(islice(left, batch))):
                    waiting.append(self.client.submit(remote.do, job, some, self.limit_s, pure=False))
                if not waiting:
                    return
                yield from map(_answer, waiting.popleft().result())
        except KilledWorker as error:
            raise AuditError(f"the same files ended several workers: {error}") from None

    def spread(self, call: Callable[..., _Answer], tasks: Sequence[Sequence[Any]]) -> Generator[_Answer]:
        """What a call gives for the arguments of each task, in their order, made by the workers.

        A worker that is lost has another one make its calls again. Raises AuditError where one call ends
        worker after worker.
        """
        from distributed import KilledWorker

        futures = [self.client.submit(call, *task, pure=False) for task in tasks]
        try:
            for future in futures:
                yield future.result()
        except KilledWorker as error:
            raise AuditError(f"the same trip ended several workers: {error}") from None
        finally:
            self.client.cancel(futures)

    def do(self, job: str, tasks: Sequence[Any]) -> list[Any]:
        """As `each`, of a few tasks."""
        return list(self.each(job, tasks))


def _answer(packed: bytes | Failed) -> Any:
    return packed if isinstance(packed, Failed) else wire.unpacked(packed)
