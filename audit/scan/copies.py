"""Which files in other folders are copies: of one body, counter and time, or of the same bytes."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from audit.disk.card import read_part
from audit.scan.reader import HEAD_SUM

if TYPE_CHECKING:
    from audit.scan.frames import Picture

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


def shot_key(cluster: list[Picture]) -> tuple[object, ...] | None:
    """Body, counter and second of a shot; None where its files do not tell all three."""
    for p in cluster:
        model, time = p.row.get("model"), p.row.get("captured_at")
        if model and time and p.counter is not None:
            return model.casefold(), p.counter, time.replace(microsecond=0)
    return None


def twin_of(cluster: list[Picture], by_content: dict[str, list[list[Picture]]]) -> list[Picture] | None:
    """The frame of another dump that holds the same bytes; twins within one dump stay two, and are told."""
    dump = cluster[0].dump
    found = (one for p in cluster for one in by_content.get(p.content or "", ()))
    return next((one for one in found if all(p.dump != dump for p in one)), None)


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
