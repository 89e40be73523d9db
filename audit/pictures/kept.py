"""Larger views and cuts kept between runs: the next report decodes no photograph that is as it was."""

from __future__ import annotations

import json
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any

import PIL

from audit.disk.dumps import Dump
from audit.disk.kept import Kept, program
from audit.pictures.originals import Row, Seen, seen
from audit.pictures.upright import Encoded
from audit.pixels.decode import PixelsUnreadable
from audit.pixels.files import look_at

NAME = "views.sqlite"
MOST_BYTES = 1_000_000_000
_LOOKED_AT = ("preview_file", "preview_offset", "preview_bytes", "width_px", "height_px", "orientation")
_COUNT_BYTES = 4


class Views:
    """What `seen` gives, from the file beside `cache` where it is known; None: nothing is kept."""

    def __init__(self, dump: Dump, cache: Path | None) -> None:
        self._dump = dump
        self._kept: Kept[Seen] | None = None
        if cache is not None:
            self._kept = Kept(cache.with_name(NAME), "seen", _packed, _unpacked, MOST_BYTES)

    def of(self, row: Row, *, full: bool) -> Seen:
        """As `seen`. Only what was found whole is kept: what went wrong is tried again."""
        read = partial(seen, self._dump, row, full=full)
        if self._kept is None or not self._kept.usable:
            return read()
        with suppress(PixelsUnreadable):
            files = [look_at(self._dump, shown).identity for shown in row["files"]]
            told = [str(row.get(name)) for name in _LOOKED_AT]
            key = "|".join([program("pictures", "pixels"), PIL.__version__, str(full), *told, *files])
            known = self._kept.get(key)
            if known is None:
                known = read()
                if known.larger is not None and not known.why_no_cuts:
                    self._kept.put(key, known)
            return known
        return read()

    def close(self) -> None:
        """Writes what is new, and closes the file."""
        if self._kept is not None:
            self._kept.close()


def _packed(found: Seen) -> bytes:
    """Which pictures there are, with their sizes, and behind it their bytes."""
    pictures = [found.larger, found.middle, *found.corners]
    sizes = [(len(one.jpeg), one.width_px, one.height_px) if one else None for one in pictures]
    head = json.dumps({"file": found.file, "full_px": found.full_px, "pictures": sizes}).encode()
    return b"".join((len(head).to_bytes(_COUNT_BYTES, "big"), head, *(one.jpeg for one in pictures if one)))


def _unpacked(data: bytes) -> Seen | None:
    """What `_packed` made these bytes of; None where they are nothing of the kind."""
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
