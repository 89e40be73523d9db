"""The pictures of one frame as bytes and back, from a worker or an earlier run: believed only if sound."""

from __future__ import annotations

import json
from typing import Any

from audit.pictures.originals import Seen
from audit.pictures.upright import Encoded

_COUNT_BYTES = 4


def packed(found: Seen) -> bytes:
    """Which pictures there are, with their sizes, and behind it their bytes."""
    pictures = [found.larger, found.middle, *found.corners]
    sizes = [(len(one.jpeg), one.width_px, one.height_px) if one else None for one in pictures]
    head = json.dumps({"file": found.file, "full_px": found.full_px, "pictures": sizes}).encode()
    return b"".join((len(head).to_bytes(_COUNT_BYTES, "big"), head, *(one.jpeg for one in pictures if one)))


def unpacked(data: bytes) -> Seen | None:
    """What `packed` made these bytes of; None where they are nothing of the kind."""
    start = _COUNT_BYTES + int.from_bytes(data[:_COUNT_BYTES], "big")
    try:
        told: Any = json.loads(data[_COUNT_BYTES:start])
        pictures: list[Encoded | None] = []
        for size in told["pictures"]:
            bytes_, width, height = (int(number) for number in size) if size else (0, 0, 0)
            pictures.append(Encoded(data[start : start + bytes_], width, height) if size else None)
            start += bytes_
        larger, middle, *corners = pictures
        full_px, file = (int(told["full_px"][0]), int(told["full_px"][1])), str(told["file"])
    except (ValueError, TypeError, LookupError, RecursionError):
        return None
    cuts = tuple(one for one in corners if one is not None)
    sound = start == len(data) and larger is not None and all(_is_jpeg(one) for one in pictures if one)
    return Seen(larger=larger, corners=cuts, middle=middle, file=file, full_px=full_px) if sound else None


def _is_jpeg(one: Encoded) -> bool:
    """Whether it begins as a JPEG does: nothing else is written under that name."""
    return one.jpeg.startswith(b"\xff\xd8\xff") and one.width_px > 0 and one.height_px > 0
