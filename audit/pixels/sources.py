"""Where a frame's small picture comes from: its preview, else the cheapest decoding that is allowed."""

from __future__ import annotations

import os
import stat
import tempfile
from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import Future
from contextlib import suppress
from functools import partial
from pathlib import Path
from threading import Lock
from typing import Any, Literal, get_args
from weakref import finalize

import pandas as pd
import PIL

import audit
from audit.crew.crew import crew_at_work, result
from audit.disk.dumps import Dump, tops
from audit.disk.kept_file import SIBLINGS
from audit.disk.process import left_behind, temporary_name
from audit.message.text import joined, marked, say
from audit.pixels import readers
from audit.pixels.asking import sketched
from audit.pixels.cache import Cache
from audit.pixels.decode import PixelsUnreadable
from audit.pixels.files import look_at
from audit.pixels.shrink import VERSION, Size
from audit.pixels.sketch import Sketch

Mode = Literal["preview", "full", "off"]
IN_MEMORY = 64
AHEAD = 3
"""Pictures for each worker that are asked for before they are needed."""
OFF, NO_PREVIEW = marked("pixels are off"), marked("no preview")
NOTHING = marked("no file whose pixels can be read")
_READER = f"{VERSION}|{audit.__version__}|{PIL.__version__}"

Row = Mapping[str, Any]


class Sketches:
    """The small pictures of a dump's frames, made when asked for.

    `mode` is "preview" (nothing but embedded previews), "full" (the picture is decoded where it has none)
    or "off". `cache` is a file that keeps them between runs; without one that can be used they are kept in a
    temporary file for this run, so that no picture is decoded twice; `unkept` then says why. A few are held
    in memory.
    """

    def __init__(self, dump: Dump, mode: Mode = "preview", cache: Path | None = None) -> None:
        if mode not in get_args(Mode):
            raise ValueError(f"mode {mode!r} is none of {', '.join(get_args(Mode))}")
        self._dump, self.mode = dump, mode
        self._kept = Cache(cache) if cache is not None and mode != "off" else None
        self._for_this_run = False
        self.unkept = ""
        self._remove: Callable[[], object] = lambda: None
        self._recent: OrderedDict[str, Sketch] = OrderedDict()
        self._reasons: dict[str, str] = {}
        self._coming: Iterator[Row] = iter(())
        self._asked: dict[str, Future[tuple[Sketch | None, str]]] = {}
        self._one_at_a_time = Lock()

    def of(self, row: Row) -> Sketch | None:
        """The small picture of a frame, or None: `why` says why. Never raises for a bad file."""
        frame = str(row["frame"])
        if frame in self._recent:
            self._recent.move_to_end(frame)
        elif frame not in self._reasons:
            self._make(frame, row)
        return self._recent.get(frame)

    def why(self, row: Row) -> str:
        """Why a frame has no small picture; "" where it has one."""
        self.of(row)
        return self._reasons.get(str(row["frame"]), "")

    def ahead(self, rows: Iterable[Row]) -> None:
        """Rows whose pictures will be asked for, in this order: a few are made while others are looked at."""
        if crew_at_work().workers and self.mode != "off":
            self._coming = iter(rows)
            self._ask_more()

    def _ask_more(self) -> None:
        crew = crew_at_work()
        while len(self._asked) < AHEAD * crew.workers and (row := next(self._coming, None)) is not None:
            frame = str(row["frame"])
            if frame not in self._recent and frame not in self._reasons and frame not in self._asked:
                self._asked[frame] = crew.later(partial(self._first, row))

    def close(self) -> None:
        """Writes what the file on the disk lacks and closes it; a temporary one goes."""
        for one in self._asked.values():
            one.cancel()
        with self._one_at_a_time:
            if self._kept is not None:
                self._kept.close()
            self._remove()

    def __enter__(self) -> Sketches:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _make(self, frame: str, row: Row) -> None:
        waiting = self._asked.pop(frame, None)
        made, reason = self._first(row) if waiting is None else result(waiting)
        self._ask_more()
        if made is None:
            self._reasons[frame] = reason
            return
        self._recent[frame] = made
        if len(self._recent) > IN_MEMORY:
            self._recent.popitem(last=False)

    def _first(self, row: Row) -> tuple[Sketch | None, str]:
        """The first source of a frame that gives a sketch, or None and why there is none."""
        if self.mode == "off":
            return None, OFF
        reasons = []
        try:
            made = self._preview(row)
            if made is not None or self.mode == "preview":
                return made, NO_PREVIEW
        except PixelsUnreadable as error:
            if self.mode == "preview":
                return None, error.args[0]
        for shown in row["files"]:
            try:
                return self._decoded(row, shown), ""
            except PixelsUnreadable as error:
                reasons.append(error.args[0])
        return None, joined(dict.fromkeys(reasons)) or NOTHING

    def _preview(self, row: Row) -> Sketch | None:
        shown, offset, length = (
            row.get("preview_file"),
            _whole(row, "preview_offset"),
            _whole(row, "preview_bytes"),
        )
        if not isinstance(shown, str) or offset is None or length is None:
            return None
        file, shape, place = look_at(self._dump, shown), _shape(row), (offset, length)
        key = f"{file.identity}|preview|{place}|{shape}"
        name = say("preview in {file}", file=file.path.name)
        asked = partial(sketched, file, "preview", name, shape=shape, place=place)
        return self._through_cache(key, asked)

    def _decoded(self, row: Row, shown: str) -> Sketch:
        file, shape = look_at(self._dump, shown), _shape(row)
        orientation = _whole(row, "orientation") or 1
        library = readers.library_version(file.kind) if file.kind in readers.LIBRARIES else ""
        key = f"{file.identity}|{file.kind}|{library}|{shape}|{orientation}"
        asked = partial(sketched, file, file.kind, file.path.name, shape=shape, orientation=orientation)
        return self._through_cache(key, asked)

    def _through_cache(self, key: str, asked: Callable[[], Sketch]) -> Sketch:
        with self._one_at_a_time:
            known = self._store().get(f"{_READER}|{key}")
        if known is None:
            known = asked()
            with self._one_at_a_time:
                self._store().put(f"{_READER}|{key}", known)
        return known

    def _store(self) -> Cache:
        """The file that was named, or one for this run alone where that cannot be used."""
        if self._kept is not None and (self._kept.usable or self._for_this_run):
            return self._kept
        self.unkept = self._kept.fault if self._kept is not None else ""
        self._for_this_run = True
        place = _own_folder(self._dump)
        if place is not None:
            self._remove = finalize(self, _discard, place)
        # Where no file can be made, nothing is kept.
        self._kept = Cache(place / "pixels.sqlite" if place is not None else Path(os.devnull))
        return self._kept


def _own_folder(dump: Dump) -> Path | None:
    """A new temporary folder, or None where it cannot be made or would lie inside the dump."""
    named = [place for name in ("TMPDIR", "TEMP", "TMP") if (place := os.environ.get(name))]
    with suppress(OSError, RuntimeError):
        if not any(_inside(place, dump) for place in named) and not _inside(tempfile.gettempdir(), dump):
            base = Path(tempfile.gettempdir())
            _tidy(base)
            folder = base / temporary_name()
            folder.mkdir(mode=0o700)
            return folder
    return None


def _tidy(base: Path) -> None:
    """Removes the temporary folders of earlier runs that were killed, by what their names tell."""
    with suppress(OSError):
        for folder in base.iterdir():
            if left_behind(folder.name) and _is_own(folder.lstat()):
                _discard(folder)


def _is_own(status: os.stat_result) -> bool:
    """Whether it is a folder that this user has made for nobody else, and no link to one."""
    return stat.S_ISDIR(status.st_mode) and not status.st_mode & 0o077 and status.st_uid == os.getuid()


def _inside(place: str, dump: Dump) -> bool:
    return any(Path(place).resolve().is_relative_to(top.resolve()) for top in tops(dump))


def _discard(folder: Path) -> None:
    """Removes the temporary folder with the files that were made in it; with others it stays."""
    with suppress(OSError):
        for ending in ("", *SIBLINGS):
            # deletes: our own database, or what SQLite keeps beside it, in a folder that a run of ours made
            (folder / f"pixels.sqlite{ending}").unlink(missing_ok=True)
        folder.rmdir()  # deletes: the folder that a run of ours has made, and only where it is empty


def _shape(row: Row) -> Size | None:
    width, height = _whole(row, "width_px"), _whole(row, "height_px")
    return (width, height) if width and height else None


def _whole(row: Row, name: str) -> int | None:
    value: Any = row.get(name)
    return None if pd.isna(value) else int(value)
