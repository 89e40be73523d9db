"""One open file with every read bounded: by the bytes left and by a fixed limit."""

from __future__ import annotations

import io
from pathlib import Path

from audit.disk.card import CardFile

READ_LIMIT = 1 << 20  # bytes; no header a camera writes needs more in one read
BUFFER = 1 << 16  # bytes; nearly every camera's header lies within the first 64 KiB


class Source(io.BufferedReader):
    """A file open for reading. No read returns more than `READ_LIMIT` bytes, whatever a header claims."""

    def __init__(self, path: Path) -> None:
        """Raises NotRegularError, SilentCardError, and OSError as `open` does."""
        raw = CardFile(path, ahead=BUFFER, head_only=True)
        super().__init__(raw, BUFFER)
        self.size = raw.status.st_size
        self._head = raw.head

    def read(self, size: int | None = -1, /) -> bytes:
        """Up to `size` bytes from the present position, at most `READ_LIMIT`."""
        return super().read(READ_LIMIT if size is None or size < 0 else min(size, READ_LIMIT))

    def at(self, offset: int, length: int) -> bytes:
        """Up to `length` bytes from `offset`; fewer where the file ends, none outside it."""
        end = min(offset + length, self.size)
        if not 0 <= offset < end:
            return b""
        if end <= len(self._head):
            return self._head[offset:end]
        self.seek(offset)
        return self.read(end - offset)
