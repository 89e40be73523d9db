"""Workers of dask.distributed, here or of an existing cluster, that see the dump under the same paths.

What is done file by file goes to them: reading headers, and making small pictures. A worker that is lost
costs time and nothing else: the scheduler has another one do its tasks again.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import pandas as pd

from audit.crew.crew import crew_at_work
from audit.disk.dumps import Dump
from audit.errors import AuditError
from audit.pixels.sources import Mode
from audit.scale import tasks
from audit.scale.partitions import partition_of
from audit.scan.reader import Row
from audit.scan.row_data import unpacked
from audit.table.columns import records

if TYPE_CHECKING:
    from distributed import Client, Future

FILES_A_TASK, FRAMES_A_TASK = 256, 32
TASKS_AHEAD = 4
"""Tasks that wait for each worker: what is asked for and answered stays small in memory."""
ANSWERS_WITHIN_S = 30.0
LOOKED_AT = (
    *("frame", "files", "preview_file", "preview_offset", "preview_bytes"),
    *("width_px", "height_px", "orientation"),
)
"""Columns from which a small picture is made."""
MISSING = "--engine dask needs more packages: pip install 'cornerstop[scale]'"
_Item = TypeVar("_Item")
_Answer = TypeVar("_Answer")


class Cluster:
    """The workers of one audit, until `close`. After it, `lost` counts those that ended unasked."""

    def __init__(self, scheduler: str | None = None) -> None:
        """Joins the cluster at `scheduler` (tcp://...), else starts one here, of so many processes as
        the crew at work has.

        Raises AuditError where the packages are missing or nobody answers.
        """
        try:
            from distributed import Client, LocalCluster
        except ImportError:
            raise AuditError(MISSING) from None
        self._own: Any = None
        if scheduler is None:
            self._own = LocalCluster(
                n_workers=max(1, crew_at_work().workers),
                threads_per_worker=1,
                host="127.0.0.1",
                dashboard_address="127.0.0.1:0",
                silence_logs=50,
            )
        try:
            self._client: Client = Client(self._own or scheduler, timeout=ANSWERS_WITHIN_S)
        except (OSError, ValueError):
            raise AuditError(
                f"--scheduler {scheduler}: nobody answers there; start it, or leave it out"
            ) from None
        self.lost = 0

    def read(self, paths: list[Path]) -> Iterator[Row]:
        """The row of each file, in their order."""
        limit_s = crew_at_work().limit_s
        for answer in self._each(tasks.read_files, ((part, limit_s) for part in _parts(paths, FILES_A_TASK))):
            yield from (_row(data) for data in answer)

    def look(self, dump: Dump, mode: Mode, frames: pd.DataFrame) -> Iterator[tasks.Kept]:
        """The small pictures of all frames as a file of kept ones holds them, partition by partition."""
        calls = (
            (dump, mode, part)
            for _, some in frames.groupby(partition_of(frames))
            for part in _parts(records(some, LOOKED_AT), FRAMES_A_TASK)
        )
        for answer in self._each(tasks.look_at_frames, calls):
            yield from answer

    def close(self) -> None:
        """Ends the workers that were started here, and leaves those of another."""
        events = [event for _, event in self._client.get_events("all")]
        self.lost = sum(e["action"] == "remove-worker" and not e.get("expected", True) for e in events)
        self._client.close()
        if self._own is not None:
            self._own.close()

    def _each(
        self, task: Callable[..., list[_Answer]], calls: Iterable[tuple[Any, ...]]
    ) -> Iterator[list[_Answer]]:
        """The answer of each call in their order; raises AuditError where a task ends worker after worker."""
        from distributed import KilledWorker

        most = TASKS_AHEAD * max(1, sum(self._client.nthreads().values()))
        waiting: deque[Future] = deque()
        left = iter(calls)
        try:
            while True:
                more = islice(left, most - len(waiting))
                waiting += [self._client.submit(task, *call, pure=False) for call in more]
                if not waiting:
                    return
                yield waiting.popleft().result()
        except KilledWorker as error:
            raise AuditError(f"the same task ended several workers: {error}") from None


def _parts(items: Sequence[_Item], size: int) -> Iterator[Sequence[_Item]]:
    return (items[start : start + size] for start in range(0, len(items), size))


def _row(data: bytes) -> Row:
    """The row that a worker has packed. Raises AuditError where its program is another than ours."""
    row = unpacked(data)
    if row is None:
        raise AuditError("a worker answered what is no row; install the same version there")
    return row
