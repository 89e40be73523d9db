"""The job of a worker: one file's small picture, packed, or why there is none."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from audit.pixels import readers
from audit.pixels.cache import pack
from audit.pixels.decode import PixelsUnreadable, tried_twice
from audit.pixels.files import PictureFile
from audit.pixels.sketch import Sketch


def work(task: dict[str, Any], limit_s: float) -> list[Any]:
    """True and the packed sketch, or False and the reason."""
    file = PictureFile(**{**task["file"], "path": Path(task["file"]["path"])})
    shape = task["shape"] and (task["shape"][0], task["shape"][1])
    offset, length = task["place"] or (0, 0)
    reading: dict[str, Callable[[], Sketch]] = {
        "preview": lambda: readers.from_preview(file, offset, length, shape),
        "picture": lambda: readers.from_picture(file),
        "heif": lambda: readers.from_heif(file, shape, task["orientation"]),
        "raw": lambda: readers.from_raw(file, shape),
    }
    try:
        return [True, pack(tried_twice(task["name"], reading[task["how"]], limit_s))]
    except PixelsUnreadable as error:
        return [False, error.args[0]]
