"""Files of a card that may fall silent: opened, read and closed by a thread that can be left behind."""

from __future__ import annotations

import errno
import io
import os
import time
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any, TypeVar

from audit.disk.card_thread import THREADS, CardThread, SilentCardError
from audit.disk.regular import regular_descriptor
from audit.message.text import marked

__all__ = ["AHEAD", "CHUNK", "CardFile", "SilentCardError", "heads", "open_on_card", "read_part", "statuses"]

CHUNK = 1 << 20
"""Bytes of one read: so few that a card which is only slow is no silent one."""
AT_ONCE, AT_ONCE_S = 16, 0.05
"""So many heads are read in one go, and no further one after so long."""
_Answer = TypeVar("_Answer")


@dataclass(frozen=True)
class _Opened:
    """An open file (None: closed again), what the system says of it, and its first bytes that are wanted."""

    descriptor: int | None
    status: os.stat_result
    data: bytes

    def close(self) -> None:
        if self.descriptor is not None:
            os.close(self.descriptor)


class CardFile(io.RawIOBase):
    """A regular file open for reading; `status` is what it was on opening, and its size is its end.

    `ahead` bytes from `start` are read with the opening, in one go: `head`. After SilentCardError every
    further read raises it at once. There is no `fileno`: nobody else shall wait for this card.

    Where those bytes are mostly all that is wanted, `head_only` has the file closed in the same go, and
    opened once more by a read beyond them.
    """

    def __init__(self, path: Path, start: int = 0, ahead: int = CHUNK, *, head_only: bool = False) -> None:
        """Raises NotRegularError, SilentCardError, and OSError or ValueError as `open` does."""
        self._thread: CardThread | None = None
        self._silent: SilentCardError | None = None
        self._opened: _Opened | None = None
        super().__init__()
        opening = _read_head if head_only else _open
        try:
            opened = AHEAD.take(path, ahead) if head_only and not start else None
            self._opened = opened or self._asked(lambda: opening(path, start, ahead))
        except BaseException:
            self.close()
            raise
        self.status, self.head = self._opened.status, self._opened.data
        self._path, self._start, self._place = path, start, 0

    def readable(self) -> bool:
        """It is."""
        return True

    def seekable(self) -> bool:
        """It is."""
        return True

    def tell(self) -> int:
        """The present position."""
        return self._place

    def seek(self, offset: int, whence: int = os.SEEK_SET, /) -> int:
        """Moves the position; the card is not asked. Raises ValueError before the file's start."""
        base = {os.SEEK_SET: 0, os.SEEK_CUR: self._place, os.SEEK_END: self.status.st_size}[whence]
        if base + offset < 0:
            raise ValueError("seek before the start of the file")
        self._place = base + offset
        return self._place

    def readinto(self, buffer: Any, /) -> int:
        """Fills a buffer as far as one read goes. Raises SilentCardError, or OSError as `read` does."""
        view = memoryview(buffer).cast("B")
        data = self._next(len(view))
        view[: len(data)] = data
        self._place += len(data)
        return len(data)

    def readall(self) -> bytes:
        """All that is left. Raises as `readinto`."""
        parts = []
        while data := self._next(CHUNK):
            self._place += len(data)
            parts.append(data)
        return b"".join(parts)

    def close(self) -> None:
        """Has the file closed, without waiting for it."""
        thread, self._thread = self._thread, None
        if thread is not None:
            if self._opened is not None and self._opened.descriptor is not None:
                thread.later(self._opened.close)
            THREADS.give_back(thread)
        super().close()

    def _next(self, most: int) -> bytes:
        """Up to `most` bytes from the present position, as many as there are in one go."""
        at = self._place - self._start
        if 0 <= at < len(self.head):
            return self.head[at : at + most]
        length = min(most, CHUNK, self.status.st_size - self._place)
        return self._read(self._place, length) if length > 0 else b""

    def _read(self, place: int, length: int) -> bytes:
        if self._opened is None or self._opened.descriptor is None:
            self._opened = self._asked(lambda: _open_again(self._path, self.status))
        descriptor = self._opened.descriptor
        return self._asked(lambda: _part(descriptor, place, length))

    def _asked(self, job: Callable[[], _Answer]) -> _Answer:
        if self.closed:
            raise ValueError("read of a closed file")
        if self._silent is not None:
            raise self._silent
        if self._thread is None:
            self._thread = THREADS.take()
        try:
            return THREADS.ask(self._thread, job)
        except SilentCardError as error:
            self._silent = error
            raise


class Ahead:
    """Heads of files that are about to be opened one after another, several of them read in one go.

    To hand a job to another thread and to be woken by it takes longer than to read the head of a file.
    """

    def __init__(self) -> None:
        self._waiting: deque[Path] = deque()
        self._length = 0
        self._found: dict[Path, _Opened | Exception] = {}

    def expect(self, paths: Iterable[Path], length: int) -> None:
        """Says which files come next, and how much of each is wanted [byte]."""
        self._waiting, self._length, self._found = deque(paths), length, {}

    def take(self, path: Path, length: int) -> _Opened | None:
        """The head of a file, once; None where it was not expected. Raises what opening it raises."""
        if length == self._length and path not in self._found and path in self._waiting:
            self._read_on(path)
        found = self._found.pop(path, None)
        if isinstance(found, Exception):
            raise found
        return found

    def _read_on(self, path: Path) -> None:
        """Reads this file and some that follow, as far as the card answers."""
        while self._waiting[0] != path:
            self._waiting.popleft()
        these, done = list(islice(self._waiting, AT_ONCE)), list[_Opened | Exception]()
        try:
            _in_one_go(lambda: _read_heads(these, self._length, done))
        except SilentCardError as error:
            done = [*done, error]  # silent at the one that follows those which were read
        self._found = dict(zip(these, done, strict=False))
        for _ in self._found:
            self._waiting.popleft()


AHEAD = Ahead()
"""Of the thread that does the work of a process."""


def open_on_card(path: Path) -> io.BufferedReader:
    """A regular file open for reading. Raises as `CardFile`."""
    return io.BufferedReader(CardFile(path), CHUNK)


def read_part(path: Path, start: int, length: int) -> bytes:
    """Up to `length` bytes of a regular file from `start`; fewer where it ends. Raises as `CardFile`."""
    with CardFile(path, start, min(length, CHUNK)) as file:
        file.seek(start)
        parts = []
        while length > 0 and (data := file.read(min(length, CHUNK))):
            parts.append(data)
            length -= len(data)
        return b"".join(parts)


def statuses(paths: Sequence[Path]) -> list[os.stat_result | None]:
    """What the system says of several files, asked in one go; None where it says nothing.

    Raises SilentCardError.
    """
    return _in_one_go(lambda: [_quietly(path.stat) for path in paths])


def heads(paths: Sequence[Path], length: int) -> list[bytes | None]:
    """The first `length` bytes of several regular files, read in one go; None where they cannot be read.

    Raises SilentCardError.
    """
    return _in_one_go(lambda: [_quietly(lambda path=path: _head(path, length)) for path in paths])  # type: ignore[misc]


def _in_one_go(job: Callable[[], _Answer]) -> _Answer:
    thread = THREADS.take()
    try:
        return THREADS.ask(thread, job)
    finally:
        THREADS.give_back(thread)


def _quietly(ask: Callable[[], _Answer]) -> _Answer | None:
    try:
        return ask()
    except (OSError, ValueError):
        return None


def _head(path: Path, length: int) -> bytes:
    descriptor = regular_descriptor(path)
    try:
        return _part(descriptor, 0, length)
    finally:
        os.close(descriptor)


def _open(path: Path, start: int, ahead: int) -> _Opened:
    descriptor = regular_descriptor(path)
    try:
        status = os.fstat(descriptor)
        length = min(ahead, status.st_size - start)
        return _Opened(descriptor, status, _part(descriptor, start, length) if length > 0 else b"")
    except BaseException:
        os.close(descriptor)
        raise


def _read_head(path: Path, start: int, ahead: int) -> _Opened:
    opened = _open(path, start, ahead)
    opened.close()
    return _Opened(None, opened.status, opened.data)


def _read_heads(paths: list[Path], length: int, done: list[_Opened | Exception]) -> None:
    """Adds to `done`, file by file, for as long as it takes no time worth speaking of."""
    until_s = time.monotonic() + AT_ONCE_S
    for path in paths:
        try:
            done.append(_read_head(path, 0, length))
        except Exception as error:  # its file's, raised where that is opened
            done.append(error)
        if time.monotonic() > until_s:
            return


def _open_again(path: Path, before: os.stat_result) -> _Opened:
    """Opens a file once more. Raises FileNotFoundError where another one lies there now, OSError where it is
    no longer as it was."""
    opened = _open(path, 0, 0)
    if not os.path.samestat(opened.status, before):
        opened.close()
        raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), os.fspath(path))
    if (opened.status.st_size, opened.status.st_mtime_ns) != (before.st_size, before.st_mtime_ns):
        opened.close()
        raise OSError(errno.EBUSY, marked("changed while it was read"), os.fspath(path))
    return opened


def _part(descriptor: int | None, place: int, length: int) -> bytes:
    if descriptor is None:
        raise ValueError("read of a closed file")
    if hasattr(os, "pread"):
        return os.pread(descriptor, length, place)
    os.lseek(descriptor, place, os.SEEK_SET)
    return os.read(descriptor, length)
