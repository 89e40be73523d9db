"""Sketches from what Pillow reads: the preview inside a file, or the picture itself."""

from __future__ import annotations

import io
from importlib import metadata

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from audit.disk.card import read_part
from audit.message.text import marked, say
from audit.optics.response import BRIGHTEST, DARKEST, light_stops
from audit.pixels.decode import (
    PixelsDoubtful,
    PixelsUnreadable,
    faults_told,
    on_card,
    opened,
    refuse_too_large,
    silent,
)
from audit.pixels.files import PictureFile
from audit.pixels.shrink import EMBEDDED, FULL_DECODE, RAW, REDUCED_DECODE, Size, sketch
from audit.pixels.sketch import Sketch

SAME_SHAPE = 0.02
"""Two aspects nearer than this are one: embedded pictures are rounded to whole or even pixels."""
DARKEST_BAR = 40
"""Bars are no lighter than this, of 255: black with the ringing of JPEG."""
LEAST_PX, LEAST_BAR_PX = 8, 3


def without_bars(picture: Image.Image, aspect: float) -> Image.Image | None:
    """The picture's middle of the shape `aspect` (width / height), where what lies beside it is black.

    The picture itself where it has that shape already, None where it shows something else.
    """
    width, height = picture.size
    if abs(width / height / aspect - 1) <= SAME_SHAPE:
        return picture
    inner = min(width, round(height * aspect)), min(height, round(width / aspect))
    left, top = (width - inner[0]) // 2, (height - inner[1]) // 2
    if min(inner) < LEAST_PX or max(left, top) < LEAST_BAR_PX:
        return None
    # The row beside the border carries some of the picture, so it is not looked at.
    bars = [(0, 0, left - 2, height), (width - left + 2, 0, width, height)] if left else []
    bars += [(0, 0, width, top - 2), (0, height - top + 2, width, height)] if top else []
    grey = picture.convert("L")
    if any(int(grey.crop(bar).getextrema()[1]) > DARKEST_BAR for bar in bars):  # type: ignore[arg-type]
        return None
    return picture.crop((left, top, left + inner[0], top + inner[1]))


LIBRARIES = {"heif": "pi-heif", "raw": "rawpy"}
"""Distribution that reads each kind of file."""
MISSING = {
    "heif": marked("HEIF: install cornerstop[heif]"),
    "raw": marked("raw without a usable JPEG: install cornerstop[raw]"),
}
_UPRIGHT_TO_STORED = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}
"""What undoes the turn that each EXIF orientation asks for (EXIF 2.32, tag 0x0112)."""
_BEYOND_STOPS = (3.0, 0.15)
"""How much darker than the darkest, and brighter than the brightest code that counts, black and white are."""


def library_version(kind: str) -> str:
    """Version of the library for a kind of file. Raises PixelsUnreadable where it is not installed."""
    try:
        return metadata.version(LIBRARIES[kind])
    except metadata.PackageNotFoundError:
        raise PixelsUnreadable(MISSING[kind]) from None


def from_heif(file: PictureFile, shape: Size | None, orientation: int) -> Sketch:
    """The sketch of a HEIF picture, turned back to how it is stored. `orientation` is EXIF's."""
    try:
        import pi_heif
    except ImportError:
        raise PixelsUnreadable(MISSING["heif"]) from None
    with faults_told(file.path.name), on_card(file.path, file.path.name) as handle:
        heif = pi_heif.open_heif(handle)
        refuse_too_large(heif.size, file.path.name)
        refuse_too_small(heif.size, file.path.name, PICTURE_LEAST_PX)
        picture = as_stored(heif.to_pillow(), shape, orientation)
        return sketch(picture, FULL_DECODE, exact=True)


def as_stored(upright: Image.Image, shape: Size | None, orientation: int) -> Image.Image:
    """Undoes the turn of a HEIF decoder, which follows the file's own boxes, as far as one can tell.

    Cameras write the same turn once more as EXIF orientation. A quarter turn was made if width and height
    changed places; of a half turn the sizes tell nothing, so that the two are taken to agree.
    """
    turned = shape is not None and upright.size != shape and upright.size == (shape[1], shape[0])
    undo = _UPRIGHT_TO_STORED.get(orientation)
    if undo is None or turned != (orientation >= 5):
        return upright
    return upright.transpose(undo)


def from_raw(file: PictureFile, shape: Size | None) -> Sketch:
    """The sketch of a raw file at half its size, its light coded as the general camera would code it."""
    try:
        import rawpy
    except ImportError:
        raise PixelsUnreadable(MISSING["raw"]) from None
    name = file.path.name
    try:
        with faults_told(name), on_card(file.path, name) as handle, silent(), rawpy.imread(handle) as raw:
            size = raw.sizes.width, raw.sizes.height
            refuse_too_large(size, name)
            refuse_too_small((size[0] // 2, size[1] // 2), name, PICTURE_LEAST_PX)
            light = raw.postprocess(
                half_size=True,
                gamma=(1, 1),
                no_auto_bright=True,
                output_bps=16,
                use_camera_wb=True,
                user_flip=0,
            )
    except rawpy.LibRawError:
        why = say("{file}: the raw cannot be developed here; save a JPEG beside it", file=name)
        raise PixelsDoubtful(why) from None
    picture = Image.fromarray(_CODES[light])
    same = shape is not None and abs(picture.width * shape[1] / (picture.height * shape[0]) - 1) <= SAME_SHAPE
    return sketch(picture, RAW, exact=False, shape=shape if same else None)


def _codes_of_light() -> NDArray[np.uint8]:
    """Code for each of 65,536 steps of linear light, by the response that later turns codes into light."""
    codes = np.arange(DARKEST, BRIGHTEST + 1)
    stops = light_stops(codes)
    below, above = _BEYOND_STOPS
    knots = np.concatenate([[stops[0] - below], stops, [stops[-1] + above]])
    light = np.log2(np.maximum(np.arange(65_536), 0.5) / 65_535) + knots[-1]
    return np.round(np.interp(light, knots, [0, *codes, 255])).astype(np.uint8)


_CODES = _codes_of_light()


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
