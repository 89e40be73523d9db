"""A picture decoded small, as grey codes in the geometry of the sensor."""

from __future__ import annotations

import struct
import warnings
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from audit.errors import AuditError

Codes = NDArray[np.uint8]

FORMATS = {".jpg": "JPEG", ".jpeg": "JPEG", ".tif": "TIFF", ".tiff": "TIFF", ".png": "PNG"}
LONGEST_SIDE_PX = 900
MOST_PIXELS = 400_000_000
MOST_UNDRAFTED_PIXELS = 120_000_000
"""JPEGs are decoded at a fraction of their size; other formats whole, so that less is taken of them."""


class PixelsUnreadable(AuditError):
    """A picture file that cannot be decoded, with the reason."""


def readable(name: str) -> bool:
    """Whether a file's ending is one whose pixels can be decoded here."""
    return Path(name).suffix.lower() in FORMATS


def grey_codes(path: Path, longest_px: int = LONGEST_SIDE_PX) -> Codes:
    """Grey codes 0 to 255, (rows, columns), at most `longest_px` long; row 0 as the sensor stored it.

    EXIF orientation is not applied. The size is looked at before anything is decoded. Raises
    PixelsUnreadable.
    """
    form = FORMATS.get(path.suffix.lower())
    if form is None:
        raise PixelsUnreadable(f"{path.name}: no picture whose pixels can be read; save a JPEG beside it")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # Pillow warns of bombs; they are refused below in our own words
            with Image.open(path, formats=[form]) as picture:
                return _small(picture, path.name, longest_px)
    except Image.DecompressionBombError:
        raise PixelsUnreadable(_too_large(path.name)) from None
    except (OSError, ValueError, SyntaxError, TypeError, struct.error, IndexError, KeyError, EOFError):
        raise PixelsUnreadable(f"{path.name}: the picture is damaged and cannot be decoded") from None


def _small(picture: Image.Image, name: str, longest_px: int) -> Codes:
    most = MOST_PIXELS if picture.format == "JPEG" else MOST_UNDRAFTED_PIXELS
    if picture.width * picture.height > most:
        raise PixelsUnreadable(_too_large(name))
    picture.draft("L", (longest_px, longest_px * picture.height // max(picture.width, 1)))
    if picture.mode in ("I;16", "I", "F"):
        raise PixelsUnreadable(f"{name}: more than 8 bits a channel; save a JPEG beside it")
    grey = picture.convert("L")
    scale = max(grey.size) / longest_px
    if scale > 1:
        size = (max(1, round(grey.width / scale)), max(1, round(grey.height / scale)))
        grey = grey.resize(size, Image.Resampling.BOX)
    return np.asarray(grey, dtype=np.uint8)


def _too_large(name: str) -> str:
    return f"{name}: too many pixels to decode; export it smaller"
