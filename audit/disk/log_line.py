"""A log beside an archive, to which lines are added and nothing else."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from io import FileIO
from pathlib import Path

from audit.disk.regular import open_regular

HEAD = b"cornerstop log 1\n"


def add_line(path: Path, line: str) -> bool:
    """Adds a line with the time; False where the file is somebody else's, or cannot be written."""
    line = f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ} {line}"
    try:
        if path.is_symlink():
            return False
        head = b"" if os.path.lexists(path) else HEAD
        if not head:
            with open_regular(path) as file:
                if file.read(len(HEAD)) != HEAD:
                    return False
        with FileIO(path, "ab") as log:  # deletes: nothing: is only added to
            data = head + " ".join(line.split()).encode("utf-8", "backslashreplace") + b"\n"
            return log.write(data) == len(data)
    except OSError:
        return False
