"""One file's pixels, decoded by the crew; whatever a file does to its decoder, there is a reason."""

from __future__ import annotations

import os
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from audit.crew.crew import crew_at_work
from audit.crew.process import Failed
from audit.disk.work import MEMORY_BYTES
from audit.message.text import marked, say
from audit.pixels.cache import unpack
from audit.pixels.decode import OUT_OF_MEMORY, TOOK_TOO_LONG, Codes, PixelsUnreadable
from audit.pixels.files import PictureFile
from audit.pixels.shrink import Size
from audit.pixels.sketch import Sketch

JOB = "audit.pixels.job"
ENDED = marked("{picture}: not decoded: the process that did so has ended, twice")
ROWS_BYTES = 4
"""How many rows there are stands before grey codes."""
FAULT = marked("{picture}: not decoded: the decoder failed ({fault_name})")
NONSENSE = Failed("fault", "ValueError")
"""What stands for an answer that is none of ours."""


def sketched(
    file: PictureFile,
    how: str,
    name: str,
    *,
    shape: Size | None = None,
    place: tuple[int, int] | None = None,
    orientation: int = 1,
) -> Sketch:
    """The sketch of a file, read as a "preview" at a place (offset, length), or as its kind says.

    Raises PixelsUnreadable.
    """
    task: dict[str, Any] = {"file": asdict(file) | {"path": os.fspath(file.path)}, "how": how, "name": name}
    task |= {"shape": shape and list(shape), "place": place and list(place), "orientation": orientation}
    made = unpack(_asked(task, name))
    if made is None:
        raise PixelsUnreadable(reason(NONSENSE, name))
    return made


def codes(path: Path) -> Codes:
    """As `decode.grey_codes`, by the crew. Raises PixelsUnreadable."""
    made = _asked({"path": os.fspath(path), "how": "codes"}, path.name)
    rows = int.from_bytes(made[:ROWS_BYTES], "big")
    if not rows or (len(made) - ROWS_BYTES) % rows:
        raise PixelsUnreadable(reason(NONSENSE, path.name))
    return np.frombuffer(made, np.uint8, offset=ROWS_BYTES).reshape(rows, -1)


def _asked(task: dict[str, Any], name: str) -> bytes:
    """What a worker has made. Raises PixelsUnreadable where it made nothing."""
    answer = crew_at_work().do(JOB, [task])[0]
    match answer:
        case Failed():
            raise PixelsUnreadable(reason(answer, name))
        case [True, bytes() as made]:
            return made
        case [False, str() as why]:
            raise PixelsUnreadable(why)
    raise PixelsUnreadable(reason(NONSENSE, name))


def reason(failed: Failed, name: str) -> str:
    """Why a worker gave nothing for a picture."""
    values: dict[str, Any] = {"picture": name}
    match failed.why:
        case "time":
            return say(TOOK_TOO_LONG, **values, seconds=crew_at_work().limit_s)
        case "memory":
            return say(OUT_OF_MEMORY, **values, gib=MEMORY_BYTES / 2**30)
        case "fault":
            return say(FAULT, **values, fault_name=failed.detail)
    return say(ENDED, **values)
