"""Pictures opened, with every fault told in one way, and decoded small as grey codes, as they are stored."""

from __future__ import annotations

import logging
import os
import struct
import warnings
import zlib
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from io import BufferedReader
from pathlib import Path
from typing import IO, TypeVar

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from audit.disk.card import SilentCardError, open_on_card
from audit.disk.work import FILE_S, MEMORY_BYTES, TookTooLongError, within
from audit.errors import AuditError
from audit.message.text import marked, say

Codes = NDArray[np.uint8]

_ENDINGS = {"JPEG": (".jpg", ".jpeg", ".jpe"), "TIFF": (".tif", ".tiff"), "PNG": (".png",)}
FORMATS = {ending: form for form, endings in _ENDINGS.items() for ending in endings}
LONGEST_SIDE_PX = 900
MOST_PIXELS = 400_000_000
MOST_UNDRAFTED_PIXELS = 120_000_000
"""JPEGs are decoded at a fraction of their size; other formats whole, so that less is taken of them.

A progressive JPEG is held in memory whole before any of it is made smaller.
"""
MOST_FILE_BYTES = 1_000_000_000
"""Some decoders want all bytes of a file at once."""
MOST_SCANS = 200
"""A progressive JPEG has about ten; thousands make a small file take minutes."""
ORIENTATION = 0x0112
TURNED_BACK = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}
"""What undoes the turn of each EXIF orientation."""
_FAULTS = (
    *(OSError, ValueError, SyntaxError, TypeError, struct.error, LookupError, EOFError, zlib.error),
    *(ArithmeticError, AssertionError, RuntimeError),
)
"""What decoders are known to raise for damaged pictures."""
TOOK_TOO_LONG = marked("{picture}: not decoded within {seconds:g} s of work")
OUT_OF_MEMORY = marked("{picture}: decoding it needs more memory than one file may take ({gib:g} GiB)")
_Answer = TypeVar("_Answer")


logging.getLogger("PIL").setLevel(logging.CRITICAL + 1)  # its lines are no use to the photographer


class PixelsUnreadable(AuditError):
    """A picture file that cannot be decoded, with the reason."""


class PixelsDoubtful(PixelsUnreadable):
    """One that may be read at the next try."""


def readable(name: str) -> bool:
    """Whether a file's ending is one whose pixels can be decoded here."""
    return Path(name).suffix.lower() in FORMATS


def tried_twice(name: str, read: Callable[[], _Answer], limit_s: float = FILE_S) -> _Answer:
    """What a reader of pixels gives, at the second try if not at the first.

    `limit_s` is how long one try may take, in the processor's time [s]. Raises PixelsUnreadable: also where
    the reader has worked too long, which is not tried again, or the card does not answer.
    """
    try:
        try:
            return within(limit_s, read)
        except PixelsDoubtful:
            return within(limit_s, read)
    except TookTooLongError:
        raise PixelsUnreadable(say(TOOK_TOO_LONG, picture=name, seconds=limit_s)) from None


def grey_codes(path: Path, longest_px: int = LONGEST_SIDE_PX, limit_s: float = FILE_S) -> Codes:
    """Grey codes 0 to 255, (rows, columns), at most `longest_px` long; row 0 as the sensor stored it.

    EXIF orientation is not applied. The size is looked at before anything is decoded. `limit_s` as for
    `tried_twice`. Raises PixelsUnreadable.
    """
    return tried_twice(path.name, lambda: _grey_codes(path, longest_px), limit_s)


def _grey_codes(path: Path, longest_px: int) -> Codes:
    form = FORMATS.get(path.suffix.lower())
    if form is None:
        raise PixelsUnreadable(
            say("{file}: no picture whose pixels can be read; save a JPEG beside it", file=path.name)
        )
    with opened(path, form, path.name) as picture:
        picture.draft("L", (longest_px, longest_px * picture.height // max(picture.width, 1)))
        grey = picture.convert("L")
        scale = max(grey.size) / longest_px
        if scale > 1:
            size = (max(1, round(grey.width / scale)), max(1, round(grey.height / scale)))
            grey = grey.resize(size, Image.Resampling.BOX)
        return np.asarray(grey, dtype=np.uint8)


@contextmanager
def opened(file: Path | IO[bytes], form: str, name: str) -> Iterator[Image.Image]:
    """A picture of a format, opened and not yet decoded, of no more pixels than can be held.

    Whatever goes wrong with it inside the block is raised as PixelsUnreadable with its name: the file's, or
    words that say which picture in it.
    """
    with faults_told(name), warnings.catch_warnings(), ExitStack() as stack:
        warnings.simplefilter("ignore")  # Pillow warns of bombs; they are refused below in our own words
        if isinstance(file, Path):  # by its name Pillow maps a plain TIFF, and then misreads a turned one
            file = stack.enter_context(on_card(file, name))
        if form == "TIFF":
            stack.enter_context(silent())
        with Image.open(file, formats=[form]) as picture:
            progressive = bool(picture.info.get("progressive"))
            drafted = form == "JPEG" and not progressive
            refuse_too_large(picture.size, name, MOST_PIXELS if drafted else MOST_UNDRAFTED_PIXELS)
            if progressive and _scans(picture.fp) > MOST_SCANS:
                message = marked("{picture}: written in more than {count} passes; save it anew")
                raise PixelsUnreadable(say(message, picture=name, count=MOST_SCANS))
            if picture.mode in ("I;16", "I;16B", "I", "F"):
                message = marked("{picture}: more than 8 bits a channel; save a JPEG beside it")
                raise PixelsUnreadable(say(message, picture=name))
            yield _as_stored(picture) if form == "TIFF" else picture


def on_card(path: Path, name: str) -> BufferedReader:
    """A picture file open for reading. Raises PixelsUnreadable where it is too large, and as `CardFile`."""
    file = open_on_card(path)
    if file.seek(0, os.SEEK_END) > MOST_FILE_BYTES:
        file.close()
        most = MOST_FILE_BYTES // 1_000_000
        raise PixelsUnreadable(say("{picture}: larger than {megabytes} MB", picture=name, megabytes=most))
    file.seek(0)
    return file


def _as_stored(picture: Image.Image) -> Image.Image:
    """A TIFF turned back: unlike other formats it turns itself upright while it is decoded."""
    orientation = picture.getexif().get(ORIENTATION, 1)
    picture.load()
    back = TURNED_BACK.get(orientation)
    return picture if back is None else picture.transpose(back)


def _scans(file: IO[bytes] | None) -> int:
    """How many scan headers a JPEG holds at least: the marker cannot stand in picture data."""
    if file is None:
        return 0
    place, count = file.tell(), 0
    file.seek(0)
    while count <= MOST_SCANS and (part := file.read(1 << 20)):
        count += part.count(b"\xff\xda")
    file.seek(place)
    return count


@contextmanager
def faults_told(name: str) -> Iterator[None]:
    """Turns every fault of a damaged picture into PixelsUnreadable with the file's name."""
    try:
        yield
    except PixelsUnreadable:
        raise
    except Image.DecompressionBombError:
        raise PixelsUnreadable(_too_large(name)) from None
    except SilentCardError as error:
        raise PixelsUnreadable(say("{picture}: {reason}", picture=name, reason=error.strerror)) from None
    except MemoryError:
        raise PixelsUnreadable(say(OUT_OF_MEMORY, picture=name, gib=MEMORY_BYTES / 2**30)) from None
    except _FAULTS as error:
        raise PixelsDoubtful(_fault(name, error)) from None


def _fault(name: str, error: Exception) -> str:
    """What was seen: the system refused, or (a decoder's own fault has no number) the picture is damaged."""
    if isinstance(error, OSError) and error.errno:
        reason = error.strerror or marked("input/output error")
        return say("{picture}: cannot be read: {reason}", picture=name, reason=reason)
    return say("{picture}: the picture is damaged and cannot be decoded", picture=name)


@contextmanager
def silent() -> Iterator[None]:
    """Keeps what a library in C writes to the error output of damaged files from the photographer."""
    try:
        kept, nothing = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    except OSError:  # no error output at all
        yield
        return
    try:
        os.dup2(nothing, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nothing)


def refuse_too_large(size: tuple[int, int], name: str, most: int = MOST_UNDRAFTED_PIXELS) -> None:
    """Raises PixelsUnreadable for a picture of more pixels than can be held."""
    if size[0] * size[1] > most:
        raise PixelsUnreadable(_too_large(name))


def _too_large(name: str) -> str:
    return say("{picture}: too many pixels to decode; export it smaller", picture=name)
