"""A frame's photograph opened once more for the report: a larger view, and cuts at full size where asked.

Read when the report is written, for the frames that it shows: most of a dump is never decoded whole.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from functools import partial
from numbers import Real
from pathlib import Path
from typing import Any

from PIL import Image

from audit.disk.card import read_part
from audit.disk.dumps import Dump
from audit.disk.work import FILE_S
from audit.message.text import joined, marked, say
from audit.pictures import upright
from audit.pictures.upright import Encoded
from audit.pixels import readers
from audit.pixels.decode import PixelsUnreadable, faults_told, on_card, opened, refuse_too_large, tried_twice
from audit.pixels.files import PictureFile, look_at
from audit.scan.containers import full_preview
from audit.scan.containers.found import Preview
from audit.scan.containers.source import Source

LEAST_LARGER_PX = 640
"""An embedded preview shorter than this gives way to the picture itself."""
LEAST_PX = 240
"""A picture shorter than this is hardly larger than a thumbnail: no view is made of it."""
FULL_SHARE = 0.95
"""A raw's preview of so much of the picture's long side is its full size: some leave out a border."""
NOTHING = marked("no file whose pixels can be read")
NO_FULL = marked("{file}: a raw file without a preview of full size; save a JPEG beside it")
SMALLER = marked("{file}: a raw file whose largest preview has {width} x {height} px; save a JPEG beside it")

LOOKED_AT = ("preview_offset", "preview_bytes", "width_px", "height_px", "orientation")
"""Numbers of a row that are looked at here."""

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Seen:
    """What one frame's picture gave. `why` says why there is no larger view, `why_no_cuts` why no cuts.

    `file` and `full_px` are the name and size [px] of what the cuts were made from, as it is held; `corners`
    go from top left to bottom right.
    """

    larger: Encoded | None = None
    why: str = ""
    corners: tuple[Encoded, ...] = ()
    middle: Encoded | None = None
    file: str = ""
    full_px: tuple[int, int] = (0, 0)
    why_no_cuts: str = ""


def seen(dump: Dump, row: Row, *, full: bool = False, limit_s: float = FILE_S) -> Seen:
    """The larger view of a frame; where `full`, its corners and its middle pixel for pixel too.

    `limit_s` is how long one try at a file may take, in the processor's time [s]. Never raises for a bad
    file: the reason is in the answer.
    """
    if not full:
        return _view(dump, row, limit_s)
    reasons = []
    for shown in row["files"]:
        try:
            return tried_twice(Path(shown).name, partial(_whole, dump, row, shown), limit_s)
        except PixelsUnreadable as error:
            reasons.append(error.args[0])
    return replace(_view(dump, row, limit_s), why_no_cuts=_told(reasons))


def _whole(dump: Dump, row: Row, shown: str) -> Seen:
    """Everything of one file, decoded once."""
    file, orientation = look_at(dump, shown), number(row, "orientation") or 1
    with _full_size(file, row) as picture:
        refuse_too_large(picture.size, file.path.name)
        pixels = picture if picture.mode == "RGB" else picture.convert("RGB")
        pixels.load()
        across, down = pixels.size[::-1] if orientation >= 5 else pixels.size
        return Seen(
            larger=upright.larger(pixels, orientation),
            corners=upright.corners(pixels, orientation),
            middle=upright.middle(pixels, orientation),
            file=file.path.name,
            full_px=(across, down),
        )


def _view(dump: Dump, row: Row, limit_s: float) -> Seen:
    """The larger view alone: from the preview, else from the picture, else from a preview that is small."""
    preview = partial(_of_preview, dump, row)
    ways = [partial(preview, LEAST_LARGER_PX)]
    ways += [partial(_of_file, dump, row, shown) for shown in row["files"]]
    ways.append(partial(preview, LEAST_PX))
    reasons = []
    for way in ways:
        try:
            return Seen(larger=tried_twice(str(row["frame"]), way, limit_s))
        except PixelsUnreadable as error:
            reasons.append(error.args[0])
    return Seen(why=_told(reasons))


def _told(reasons: list[str]) -> str:
    """Each reason once; that there is nothing to read only where it is the only one."""
    return joined([why for why in dict.fromkeys(reasons) if why != NOTHING], "; ") or NOTHING


def _of_preview(dump: Dump, row: Row, least_px: int) -> Encoded:
    shown, offset, length = (
        row.get("preview_file"),
        number(row, "preview_offset"),
        number(row, "preview_bytes"),
    )
    if not isinstance(shown, str) or offset is None or length is None:
        raise PixelsUnreadable(NOTHING)
    file = look_at(dump, shown)
    with _embedded(file, Preview(offset, length, 0, 0)) as picture:
        return _small(picture, row, file.path.name, least_px)


def _of_file(dump: Dump, row: Row, shown: str) -> Encoded:
    file = look_at(dump, shown)
    if file.kind == "raw":
        raise PixelsUnreadable(NOTHING)
    with _full_size(file, row) as picture:
        return _small(picture, row, file.path.name, LEAST_PX)


def _small(picture: Image.Image, row: Row, name: str, least_px: int) -> Encoded:
    """The larger view of a picture as it is stored; a JPEG is decoded no larger than is needed."""
    readers.refuse_too_small(picture.size, name, least_px)
    shape = number(row, "width_px"), number(row, "height_px")
    scale = upright.LARGER_PX / max(picture.size)
    if scale < 1:
        picture.draft("RGB", (max(1, int(picture.width * scale)), max(1, int(picture.height * scale))))
    within: Image.Image | None = picture
    if shape[0] and shape[1]:
        within = readers.without_bars(picture.convert("RGB"), shape[0] / shape[1])
    if within is None:
        raise PixelsUnreadable(say("{picture}: not of the picture's shape", picture=name))
    return upright.larger(within, number(row, "orientation") or 1)


@contextmanager
def _full_size(file: PictureFile, row: Row) -> Iterator[Image.Image]:
    """A file's picture at full size, as it is stored. Raises PixelsUnreadable."""
    name = file.path.name
    with ExitStack() as stack:
        if file.kind == "picture":
            yield stack.enter_context(opened(file.path, file.form, name))
        elif file.kind == "heif":
            yield stack.enter_context(_heif(file, row))
        else:
            yield stack.enter_context(_embedded(file, _largest(file, row)))


@contextmanager
def _heif(file: PictureFile, row: Row) -> Iterator[Image.Image]:
    readers.library_version("heif")
    import pi_heif

    name, shape = file.path.name, (number(row, "width_px"), number(row, "height_px"))
    with faults_told(name), on_card(file.path, name) as handle:
        heif = pi_heif.open_heif(handle)
        refuse_too_large(heif.size, name)
        size = (shape[0], shape[1]) if shape[0] and shape[1] else None
        yield readers.as_stored(heif.to_pillow(), size, number(row, "orientation") or 1)


@contextmanager
def _embedded(file: PictureFile, preview: Preview) -> Iterator[Image.Image]:
    """A JPEG inside a file, not yet decoded."""
    name = say("preview in {file}", file=file.path.name)
    if preview.length > readers.MOST_PREVIEW_BYTES:
        most = readers.MOST_PREVIEW_BYTES // 1_000_000
        raise PixelsUnreadable(say("{picture}: larger than {megabytes} MB", picture=name, megabytes=most))
    with faults_told(name):
        data = io.BytesIO(read_part(file.path, preview.offset, preview.length))
    with opened(data, "JPEG", name) as picture:
        yield picture


def _largest(file: PictureFile, row: Row) -> Preview:
    """A raw file's preview of full size. Raises PixelsUnreadable where it has none."""
    name = file.path.name
    with faults_told(name), Source(file.path) as source:
        found = full_preview(source, file.path.suffix.lower().removeprefix("."))
    if found is None:
        raise PixelsUnreadable(say(NO_FULL, file=name))
    longest = max(number(row, "width_px") or 0, number(row, "height_px") or 0)
    if not longest or found.longest_px < FULL_SHARE * longest:
        raise PixelsUnreadable(say(SMALLER, file=name, width=found.width_px, height=found.height_px))
    return found


def number(row: Row, name: str) -> int | None:
    """A whole number of a row; None where it holds none."""
    value: Any = row.get(name)
    return int(float(value)) if isinstance(value, Real) and value == value else None
