"""Files written into several workplaces at once: each byte of a source is read and summed once for all.

A place that fails is left behind, with what it holds for the next run; the others go on.
"""

from __future__ import annotations

import hashlib
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from io import FileIO

from audit.disk.workplace import Kept, Workplace
from audit.errors import AuditError

BACKLOG = 4
"""So many files of a place may be on their way to the disk while the next is read."""


class Together:
    """The workplaces that still work, and why others do not. The failure of the last one is raised."""

    def __init__(self, places: Sequence[Workplace]) -> None:
        self.alive = list(places)
        self.lost: dict[Workplace, AuditError] = {}
        self._pools = {place: ThreadPoolExecutor(1) for place in places}
        self._waiting: dict[Workplace, deque[Future[None]]] = {place: deque() for place in places}

    def each(self, act: Callable[[Workplace], object], only: Sequence[Workplace] | None = None) -> None:
        """Does something with every place that works, or with those of some."""
        for place in tuple(self.alive):
            if only is None or place in only:
                self._do(place, act)

    def write(
        self,
        name: str,
        chunks: Iterable[bytes],
        *,
        into: Sequence[Workplace],
        stamp: str,
        time_ns: int,
        back: bool,
        also: Sequence[str] = (),
        twin: Callable[[str], str | None] = lambda _digest: None,
    ) -> Kept:
        """One file into some places; `twin` says by its digest which other file is kept instead of it.

        `also` are digests beside SHA-512. An error of `chunks` goes through; what was begun is then written
        anew or dropped.
        """
        files: dict[Workplace, FileIO] = {}
        try:
            for place in into:
                self._do(place, lambda place: files.update({place: place.begin(name)}))
            kept = self._fill(files, chunks, stamp, also)
        except BaseException:
            for file in files.values():
                file.close()
            raise
        other = twin(kept.sha512)
        for place, file in files.items():
            if place not in self.alive:
                file.close()
            elif other is not None:
                file.close()
                self._do(place, lambda place: place.note_twin(name, other, stamp))
            else:
                self._await(place, BACKLOG)
                settle = self._pools[place].submit
                self._waiting[place].append(
                    settle(place.settle, name, file, kept, time_ns=time_ns, back=back)
                )
        return kept

    def wait(self) -> None:
        """Until every file is on its disk."""
        for place in tuple(self.alive):
            self._await(place, 0)

    def shut(self) -> None:
        """Ends the threads; the places stay open."""
        for pool in self._pools.values():
            pool.shutdown(wait=True)

    def _fill(
        self, files: dict[Workplace, FileIO], chunks: Iterable[bytes], stamp: str, also: Sequence[str]
    ) -> Kept:
        size = 0
        sums = {one: hashlib.new(one) for one in ("sha512", *also)}
        for chunk in chunks:
            size += len(chunk)
            for one in sums.values():
                one.update(chunk)
            for place, file in files.items():
                if place in self.alive:
                    self._do(place, lambda place, file=file, chunk=chunk: place.put(file, chunk))  # type: ignore[misc]
        return Kept(size, stamp=stamp, **{name: one.hexdigest() for name, one in sums.items()})

    def _do(self, place: Workplace, act: Callable[[Workplace], object]) -> None:
        try:
            act(place)
        except AuditError as error:
            self._lose(place, error)

    def _lose(self, place: Workplace, error: AuditError) -> None:
        if place in self.alive:
            self.alive.remove(place)
            self.lost[place] = error
        if not self.alive:
            raise error

    def _await(self, place: Workplace, most: int) -> None:
        """Until no more than so many files of a place are on their way."""
        waiting = self._waiting[place]
        while len(waiting) > most:
            try:
                waiting.popleft().result()
            except AuditError as error:
                self._lose(place, error)
