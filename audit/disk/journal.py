"""A journal: a line is added for each step, so that the next run knows what a killed one has done."""

from __future__ import annotations

import json
import os
from io import FileIO
from pathlib import Path
from threading import Lock
from typing import Any

from audit.errors import AuditError
from audit.message.shown import shown_name

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

HEAD = b"cornerstop archive journal 1\n"


class Journal:
    """Lines of JSON in one file, only added to. Methods raise OSError where the disk refuses."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._file: FileIO | None = None
        self._adding = Lock()  # files are finished by threads of their own

    def open(self, busy: str) -> list[dict[str, Any]]:
        """What was noted so far. Raises AuditError for a file that is not ours, or, with `busy`, in use."""
        data = self.path.read_bytes() if self.path.is_file() else b""
        if not (data.startswith(HEAD) or HEAD.startswith(data)):
            raise AuditError(f"{shown_name(str(self.path))}: is no journal of ours; move it elsewhere")
        self._file = FileIO(self.path, "ab")  # deletes: nothing: is only added to
        self._lock(busy)
        self._add(HEAD[len(data) :] if HEAD.startswith(data) else b"" if data[-1:] == b"\n" else b"\n")
        return [said for line in data[len(HEAD) :].split(b"\n") if (said := _said(line))]

    def note(self, *, sync: bool = False, **said: Any) -> None:
        """One line more; with `sync` it is on the disk before this returns."""
        self._add(json.dumps(said).encode("ascii") + b"\n")
        if sync and self._file is not None:
            os.fsync(self._file.fileno())

    def close(self) -> None:
        """Ends the work; the file stays."""
        if self._file is not None:
            self._file.close()
            self._file = None

    def remove(self) -> None:
        """Takes the file away, once nothing needs it."""
        self.close()
        self.path.unlink()  # deletes: the journal that this program keeps

    def _lock(self, busy: str) -> None:
        if fcntl is None or self._file is None:
            return
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise AuditError(busy) from None

    def _add(self, data: bytes) -> None:
        with self._adding:
            rest = memoryview(data)
            while rest and self._file is not None:
                rest = rest[self._file.write(rest) :]


def _said(line: bytes) -> dict[str, Any]:
    try:
        said = json.loads(line)
    except ValueError:  # torn by a kill: counts for nothing
        return {}
    return said if isinstance(said, dict) else {}
