"""Sketches from what Pillow reads: the preview inside a file, or the picture itself."""

from __future__ import annotations

import io

from PIL import Image

from audit.disk.card import read_part
from audit.message.text import marked, say
from audit.pixels.bars import without_bars
from audit.pixels.decode import PixelsUnreadable, faults_told, opened
from audit.pixels.files import PictureFile
from audit.pixels.shrink import EMBEDDED, FULL_DECODE, REDUCED_DECODE, Size, sketch
from audit.pixels.sketch import Sketch

PREVIEW_LEAST_PX = 480
"""A shorter preview is no measure of the picture: EXIF thumbnails are off by .1 to .3 stop (measured)."""
PICTURE_LEAST_PX = 240
REDUCED_LEAST_PX = 640
WHOLE_PIXELS = 8_000_000
"""Pictures up to this size are decoded whole, so that what is clipped is counted in their own pixels."""
MOST_PREVIEW_BYTES = 64_000_000


def from_preview(file: PictureFile, offset: int, length: int, shape: Size | None) -> Sketch:
    """The sketch of the JPEG at a place in a file. `shape` is the photograph's size, None: not known.

    Raises PixelsUnreadable where the preview is damaged, too small, or shows another cut of the picture.
    """
    name = say("preview in {file}", file=file.path.name)
    if length > MOST_PREVIEW_BYTES:
        most = MOST_PREVIEW_BYTES // 1_000_000
        raise PixelsUnreadable(say("{picture}: larger than {megabytes} MB", picture=name, megabytes=most))
    with faults_told(name):
        data = io.BytesIO(read_part(file.path, offset, length))
    with opened(data, "JPEG", name) as picture:
        refuse_too_small(picture.size, name, PREVIEW_LEAST_PX)
        _reduce(picture)
        shown: Image.Image | None = picture
        if shape is not None:
            shown = without_bars(picture, shape[0] / shape[1])
        if shown is None:
            raise PixelsUnreadable(say("{picture}: not of the picture's shape", picture=name))
        refuse_too_small(shown.size, name, PREVIEW_LEAST_PX)
        return sketch(shown, EMBEDDED, exact=shown.size == shape, shape=shape)


def from_picture(file: PictureFile) -> Sketch:
    """The sketch of a JPEG, TIFF or PNG; large JPEGs are decoded at a fraction of their size."""
    name = file.path.name
    with opened(file.path, file.form, name) as picture:
        refuse_too_small(picture.size, name, PICTURE_LEAST_PX)
        full = picture.size
        _reduce(picture)
        whole = picture.size == full
        source = FULL_DECODE if whole else REDUCED_DECODE
        return sketch(picture, source, exact=whole, shape=full)


def _reduce(picture: Image.Image) -> None:
    """Has a large JPEG decoded smaller, at least `REDUCED_LEAST_PX` long. Other formats stay as they are."""
    if picture.width * picture.height > WHOLE_PIXELS:
        scale = REDUCED_LEAST_PX / max(picture.size)
        picture.draft("RGB", (max(1, int(picture.width * scale)), max(1, int(picture.height * scale))))


def refuse_too_small(size: Size, name: str, least_px: int) -> None:
    """Raises PixelsUnreadable for a picture whose longer side is shorter than `least_px`."""
    if max(size) < least_px:
        message = marked("{picture}: too small to measure ({width} x {height} px)")
        raise PixelsUnreadable(say(message, picture=name, width=size[0], height=size[1]))
