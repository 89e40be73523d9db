"""Files of several dumps that are the same to the byte, where their names and times do not tell."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path

from audit.disk.card import read_part
from audit.scan.frames import Picture, shot_key
from audit.scan.reader import HEAD_SUM

PIECE_BYTES = 1 << 22


def mark_same(pictures: Sequence[Picture], paths: Mapping[str, Path]) -> None:
    """Gives files of one content in two dumps the same `content`; only those are read whole that may be so.

    Where body, counter and time are told alike the files are joined without it.
    """
    alike: dict[tuple[object, object], list[Picture]] = {}
    for one in pictures:
        if one.row.get(HEAD_SUM) is not None:
            alike.setdefault((one.row.get("size_bytes"), one.row[HEAD_SUM]), []).append(one)
    for group in alike.values():
        keys = {shot_key([one]) for one in group}
        if len({one.dump for one in group}) > 1 and (len(keys) > 1 or None in keys):
            for one in group:
                one.content = _digest(paths[one.files[0]])


def _digest(path: Path) -> str | None:
    """SHA-256 of the file, None where it cannot be read whole."""
    digest, at = hashlib.sha256(), 0
    try:
        while piece := read_part(path, at, PIECE_BYTES):
            digest.update(piece)
            at += len(piece)
    except OSError:
        return None
    return digest.hexdigest() if at else None
