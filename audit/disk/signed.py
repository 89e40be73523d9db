"""Single files of ours that carry their own digest, so that an unchanged one may be replaced."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from audit.disk.regular import open_regular
from audit.disk.whole_file import put_whole
from audit.errors import AuditError

MOST_BYTES = 10_000_000
_FORM = "<!-- written by cornerstop, which may replace this file while it is unchanged: {digest} -->\n"


def signed(text: str) -> str:
    """An HTML or SVG text with a last line that holds the digest of all before it."""
    text = text.rstrip("\n") + "\n"
    return text + _FORM.format(digest=hashlib.sha256(text.encode("utf-8")).hexdigest())


def put_signed(path: Path, text: str) -> None:
    """Writes a text with its digest to a path that is free, or holds an unchanged one of ours.

    Raises AuditError where it holds anything else, or the disk refuses.
    """
    taken = os.path.lexists(path)
    if taken and not is_ours(path):
        raise AuditError(f"{path}: exists, and is not a drawing of ours as it was written; name another file")
    try:
        put_whole(path, signed(text).encode("utf-8"), replacing=taken)
    except OSError as error:
        raise AuditError(
            f"{path}: cannot be written ({error.strerror or error}); name another file"
        ) from None


def is_ours(path: Path) -> bool:
    """Whether a file is one that `signed` made, unchanged since; False where it cannot be read."""
    try:
        if path.is_symlink():
            return False
        with open_regular(path) as file:
            text = file.read(MOST_BYTES).decode("utf-8")
    except (OSError, UnicodeDecodeError):
        return False
    length = len(_FORM.format(digest="0" * 64))
    return len(text) > length and signed(text[:-length]) == text
