"""The job of a worker: one file's pixels, or why there are none."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from audit.pixels import readers
from audit.pixels.asking import ROWS_BYTES
from audit.pixels.cache import pack
from audit.pixels.decode import PixelsUnreadable, grey_codes, tried_twice
from audit.pixels.files import PictureFile
from audit.pixels.sketch import Sketch


def work(task: dict[str, Any], limit_s: float) -> list[Any]:
    """True and the packed sketch (or grey codes behind the number of rows), or False and the reason."""
    make = _codes if task["how"] == "codes" else _sketch
    try:
        return [True, make(task, limit_s)]
    except PixelsUnreadable as error:
        return [False, error.args[0]]


def _codes(task: dict[str, Any], limit_s: float) -> bytes:
    found = grey_codes(Path(task["path"]), limit_s=limit_s)
    return len(found).to_bytes(ROWS_BYTES, "big") + found.tobytes()


def _sketch(task: dict[str, Any], limit_s: float) -> bytes:
    file = PictureFile(**{**task["file"], "path": Path(task["file"]["path"])})
    shape = task["shape"] and (task["shape"][0], task["shape"][1])
    offset, length = task["place"] or (0, 0)
    reading: dict[str, Callable[[], Sketch]] = {
        "preview": lambda: readers.from_preview(file, offset, length, shape),
        "picture": lambda: readers.from_picture(file),
        "heif": lambda: readers.from_heif(file, shape, task["orientation"]),
        "raw": lambda: readers.from_raw(file, shape),
    }
    return pack(tried_twice(task["name"], reading[task["how"]], limit_s))
