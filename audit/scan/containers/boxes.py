"""Boxes of the ISO base media format (HEIF, CR3), every size bounded by the box around it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from audit.scan.containers.source import Source

BOX_LIMIT = 4096


class Box(NamedTuple):
    """A box: its kind and where its content starts and ends in the file."""

    kind: bytes
    start: int
    end: int


def boxes(source: Source, start: int, end: int) -> Iterator[Box]:
    """The boxes between two offsets; ends at the first that cannot be right."""
    for _ in range(BOX_LIMIT):
        head = source.at(start, 16)
        if start + 8 > end or len(head) < 8:
            return
        size, skip = int.from_bytes(head[:4], "big"), 8
        if size == 1:
            size, skip = int.from_bytes(head[8:16], "big"), 16
        elif size == 0:
            size = end - start
        if size < skip or start + size > end:
            return
        yield Box(head[4:8], start + skip, start + size)
        start += size


def first(source: Source, start: int, end: int, kind: bytes) -> Box | None:
    """The first box of a kind between two offsets."""
    return next((box for box in boxes(source, start, end) if box.kind == kind), None)
